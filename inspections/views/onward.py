"""Where to go after an entry."""

from django.http import HttpRequest
from django.utils.http import url_has_allowed_host_and_scheme


def onward(request: HttpRequest, default: str) -> str:
    """The page the form asked to come back to, when it is one of ours."""
    asked = request.POST.get("next", "")
    ours = url_has_allowed_host_and_scheme(
        asked, allowed_hosts={request.get_host()}, require_https=request.is_secure()
    )
    return asked if asked and ours else default
