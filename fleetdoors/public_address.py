"""What labels, mails and feeds say of where the site is."""

from django.conf import settings
from django.http import HttpRequest


def public_url(path: str, request: HttpRequest | None = None) -> str:
    """The whole address of a path: at PUBLIC_ADDRESS, else where the request came in.

    Without either the path stands alone: no address is better than a wrong one.
    """
    if settings.PUBLIC_ADDRESS:
        return f"{settings.PUBLIC_ADDRESS}{path}"
    return path if request is None else request.build_absolute_uri(path)
