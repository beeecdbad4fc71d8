"""The page on which systems get their tokens, and lose them."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.forms.machine_token import MachineTokenForm
from fleetdoors.models import MachineToken, Role
from fleetdoors.services.machine_tokens import IssuedToken, TokenRefusedError, issue_token


@open_to(Role.ADMINISTRATOR)
@never_cache
def machine_tokens(request: SignedInRequest) -> HttpResponse:
    """Every token, and a form for the next; a new secret is shown on this answer alone."""
    _check(request)
    form = MachineTokenForm(request.POST or None)
    issued = _issue(request, form) if form.is_valid() else None
    context = {
        "form": MachineTokenForm() if issued else form,
        "issued": issued,
        "tokens": MachineToken.objects.newest_first(),
    }
    return render(request, "fleetdoors/machine_tokens.html", context)


def _check(request: SignedInRequest) -> None:
    """A token may see every depot: whoever issues or takes one back does too."""
    if not request.user.sees_every_depot():
        raise PermissionDenied(_("Tokens are of every depot; you look after some of them."))


def _issue(request: SignedInRequest, form: MachineTokenForm) -> IssuedToken | None:
    """The new token; None when it is refused, and the form says why."""
    given = form.cleaned_data
    try:
        return issue_token(
            name=given["name"],
            may_read=given["may_read"],
            may_post_readings=given["may_post_readings"],
            depots=given["depots"],
            issued_by=request.user,
            issued_at=timezone.now(),
        )
    except TokenRefusedError as error:
        form.add_error(None, str(error))
        return None


@open_to(Role.ADMINISTRATOR)
@require_POST
def machine_token_revoke(request: SignedInRequest, pk: int) -> HttpResponse:
    """Take a token back: its next call is refused."""
    _check(request)
    token = get_object_or_404(MachineToken, pk=pk)
    token.revoke(by=request.user, at=timezone.now())
    messages.success(request, _("Taken back: %(token)s opens nothing any more.") % {"token": token})
    return redirect("machine-tokens")
