"""Pages on which a reading is logged, shown, corrected and ruled on."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Role
from inspections.forms.fields import same_minute
from inspections.forms.reading import ReadingCorrectionForm, ReadingForm
from inspections.models import CounterReading, ReadingStatus
from inspections.services.attachments import AttachmentRefusedError, Received, keep_photo
from inspections.services.corrections import CorrectionRefusedError, history_of
from inspections.services.readings import (
    ReadingClashError,
    ReadingRefusedError,
    correct_reading,
    log_reading,
    rule_on_reading,
)
from inspections.views.onward import onward
from inspections.views.place import Place, at_door, at_row


@open_to(Role.TECHNICIAN, Role.PLANNER)
@at_door
def reading_new(request: SignedInRequest, place: Place) -> HttpResponse:
    """Log what stands on a door's counter."""
    form = ReadingForm(request.POST or None, now=timezone.now(), digits=place.counter_digits())
    if form.is_valid():
        reading = _log(request, place, form)
        if reading:
            _keep_photo(request, reading)
            return redirect("reading-saved", reading.pk)
    return render(request, "inspections/reading_new.html", {"form": form, "place": place})


@open_to()
@at_row(CounterReading)
def reading_saved(request: SignedInRequest, reading: CounterReading, place: Place) -> HttpResponse:
    """What was stored, what stood there before, and what was to be expected."""
    context = {
        "reading": reading,
        "place": place,
        "previous": CounterReading.objects.accepted()
        .filter(door=place.door)
        .before(reading.read_at)
        .first(),
        "history": history_of(reading),
        "answer_url": reverse("reading-answer", args=[reading.pk]),
        "may_write": request.user.has_any_role(Role.TECHNICIAN, Role.PLANNER),
    }
    return render(request, "inspections/reading_saved.html", context)


@open_to(Role.TECHNICIAN, Role.PLANNER)
@at_row(CounterReading)
def reading_correct(
    request: SignedInRequest, reading: CounterReading, place: Place
) -> HttpResponse:
    """Put another value or moment in a reading's place."""
    form = ReadingCorrectionForm(
        request.POST or None, reading=reading, digits=place.counter_digits()
    )
    if form.is_valid():
        corrected = _correct(request, reading, form)
        if corrected:
            return redirect(onward(request, reverse("reading-saved", args=[corrected.pk])))
    context = {"form": form, "reading": reading, "place": place}
    return render(request, "inspections/reading_correct.html", context)


@open_to(Role.TECHNICIAN, Role.PLANNER)
@require_POST
@at_row(CounterReading)
def reading_accept(
    request: SignedInRequest, reading: CounterReading, _place: Place
) -> HttpResponse:
    """Say that the counter did show this."""
    return _rule(request, reading, ReadingStatus.ACCEPTED, _("confirmed as read"))


@open_to(Role.TECHNICIAN, Role.PLANNER)
@require_POST
@at_row(CounterReading)
def reading_hold(request: SignedInRequest, reading: CounterReading, _place: Place) -> HttpResponse:
    """Keep a reading out of the figures until it is settled."""
    return _rule(request, reading, ReadingStatus.HELD, _("held back by hand"))


def _log(request: SignedInRequest, place: Place, form: ReadingForm) -> CounterReading | None:
    """The reading kept, or None with the form saying why not."""
    cleaned = form.cleaned_data
    try:
        return log_reading(
            door=place.door,
            read_at=cleaned["read_at"],
            counter_value=cleaned["counter_value"],
            entered_at=timezone.now(),
            entered_by=request.user,
            read_by=str(request.user)[:100],
        )
    except ReadingRefusedError as error:
        form.add_error(error.field, str(error))
    except ReadingClashError as clash:
        if cleaned["is_correction"]:
            return _put_right(request, clash.existing, cleaned["counter_value"])
        form.clash = clash.existing
    return None


def _put_right(
    request: SignedInRequest, existing: CounterReading, counter_value: int
) -> CounterReading:
    """The value that the person says is right, in the place of the one on record."""
    return correct_reading(
        reading=existing,
        counter_value=counter_value,
        read_at=existing.read_at,
        reason=_("entered again with another value"),
        entered_at=timezone.now(),
        entered_by=request.user,
    )


def _keep_photo(request: SignedInRequest, reading: CounterReading) -> None:
    """The photo of the counter, where there is one; a file that is none is told, and no loss."""
    photo = request.FILES.get("photo")
    if photo is None:
        return
    received = Received(
        taken_at=reading.read_at, entered_at=timezone.now(), entered_by=request.user
    )
    try:
        keep_photo(shows=reading, content=photo.read(), received=received)
    except AttachmentRefusedError as refused:
        messages.warning(request, str(refused))


def _correct(
    request: SignedInRequest, reading: CounterReading, form: ReadingCorrectionForm
) -> CounterReading | None:
    """The reading that stands in the old one's place, or None with the form saying why not."""
    typed = form.cleaned_data["read_at"] or reading.read_at
    try:
        return correct_reading(
            reading=reading,
            counter_value=form.cleaned_data["counter_value"],
            read_at=same_minute(typed, reading.read_at),
            reason=form.cleaned_data["reason"],
            entered_at=timezone.now(),
            entered_by=request.user,
        )
    except ReadingRefusedError as error:
        form.add_error(error.field, str(error))
    except (ReadingClashError, CorrectionRefusedError) as error:
        form.add_error(None, str(error))
    return None


def _rule(
    request: SignedInRequest, reading: CounterReading, ruling: ReadingStatus, default_reason: str
) -> HttpResponse:
    try:
        ruled = rule_on_reading(
            reading=reading,
            ruling=ruling,
            reason=request.POST.get("reason", "").strip() or default_reason,
            entered_at=timezone.now(),
            entered_by=request.user,
        )
    except CorrectionRefusedError as error:
        context = {"message": str(error), "back_url": reverse("reading-saved", args=[reading.pk])}
        return render(request, "inspections/refused.html", context, status=409)
    return redirect(onward(request, reverse("reading-saved", args=[ruled.pk])))
