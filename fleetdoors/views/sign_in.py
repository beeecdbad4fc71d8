"""The way in."""

from django.conf import settings
from django.contrib.auth.views import LoginView
from django.http import HttpRequest
from django.http.response import HttpResponseBase

from fleetdoors.access import open_to_strangers
from fleetdoors.demo_people import demo_people


@open_to_strangers
def sign_in(request: HttpRequest) -> HttpResponseBase:
    """Django's own sign-in; the demo says beside it how to enter as each person."""
    people = demo_people(settings.DATA_DIR) if settings.DEMO else []
    view = LoginView.as_view(
        redirect_authenticated_user=True, extra_context={"demo_people": people}
    )
    return view(request)
