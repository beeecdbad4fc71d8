"""Who writes on a shared phone: its people, their PINs, and the word that their entries carry."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Role
from inspections.forms.phone_pin import PhonePinForm
from inspections.forms.visit import colleagues_of
from inspections.models import PhonePin
from inspections.services.phone_people import people_words
from inspections.services.phone_pins import PinRefusedError, set_pin, word_for_pin

REFUSED = 403


@open_to(Role.TECHNICIAN, Role.PLANNER)
def round_people(request: SignedInRequest) -> HttpResponse:
    """Who writes on this phone now, and who else can by PIN: filled in by the phone itself."""
    context = {
        "people": colleagues_of(request.user).filter(phone_pin__isnull=False),
        "has_pin": PhonePin.objects.filter(person=request.user).exists(),
        "facts": {"add": reverse("round-people-add"), "words": people_words()},
    }
    return render(request, "inspections/round_people.html", context)


@open_to(Role.TECHNICIAN, Role.PLANNER)
@never_cache
@require_POST
def round_people_add(request: SignedInRequest) -> JsonResponse:
    """Hand the phone a person's word for the right PIN."""
    key = request.POST.get("person", "")
    person = colleagues_of(request.user).filter(pk=int(key)).first() if key.isdecimal() else None
    if person is None:
        return JsonResponse({"message": _("Choose a person.")}, status=REFUSED)
    try:
        word = word_for_pin(
            person=person, pin=request.POST.get("pin", "")[:20], asked_at=timezone.now()
        )
    except PinRefusedError as refused:
        return JsonResponse({"message": str(refused)}, status=REFUSED)
    return JsonResponse({"person": person.pk, "name": str(person), "author": word})


@open_to(Role.TECHNICIAN, Role.PLANNER)
@never_cache
def round_pin(request: SignedInRequest) -> HttpResponse:
    """Set the own PIN for shared phones."""
    form = PhonePinForm(request, request.user)
    if form.is_valid():
        try:
            set_pin(person=request.user, pin=form.cleaned_data["pin"], set_at=timezone.now())
        except PinRefusedError as refused:
            form.add_error("pin", str(refused))
        else:
            messages.success(request, _("Your PIN is set. Add yourself on each phone you share."))
            return redirect("round-people")
    return render(request, "inspections/round_pin.html", {"form": form})
