"""Who may open which page: one decorator, one rule."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.utils.translation import gettext as _

from fleetdoors.models import User

View = Callable[..., HttpResponseBase]


class SignedInRequest(HttpRequest):
    """A request that passed `open_to`: its user is one of ours."""

    user: User
    htmx: Any


def open_to(*roles: str) -> Callable[[View], View]:
    """Let in people with one of the roles, or everyone signed in when no role is named."""

    def decorate(view: View) -> View:
        @wraps(view)
        @login_required
        def guarded(request: SignedInRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
            if roles and not request.user.has_any_role(*roles):
                raise PermissionDenied(_("This page belongs to another role than yours."))
            return view(request, *args, **kwargs)

        guarded.access_rule = roles or ("signed in",)  # type: ignore[attr-defined]
        return guarded

    return decorate


def open_to_strangers(view: View) -> View:
    """Mark a view that answers without sign-in, so that the walk over all routes knows it."""
    view.access_rule = ("strangers",)  # type: ignore[attr-defined]
    return view
