"""Addresses of what we have, and of the way in."""

from django.contrib.auth.views import LogoutView
from django.urls import path, register_converter
from django.views.i18n import set_language

from fleetdoors.converters import KeyConverter
from fleetdoors.views.api_page import api_page
from fleetdoors.views.demo_end import demo_end
from fleetdoors.views.further import further
from fleetdoors.views.gallery import gallery
from fleetdoors.views.health import health
from fleetdoors.views.jump import jump
from fleetdoors.views.machine_tokens import machine_token_revoke, machine_tokens
from fleetdoors.views.sign_in import sign_in
from fleetdoors.views.truck_stays import lay_up_end, truck_stays
from fleetdoors.views.units import choose_units

register_converter(KeyConverter, "key")

urlpatterns = [
    path("healthz", health, name="health"),
    path("gallery/", gallery, name="gallery"),
    path("demo/end/", demo_end, name="demo-end"),
    path("jump/", jump, name="jump"),
    path("language/", set_language, name="language"),
    path("units/", choose_units, name="units"),
    path("further/", further, name="further"),
    path("trucks/<key:truck>/stays/", truck_stays, name="truck-stays"),
    path("lay-ups/<int:pk>/end/", lay_up_end, name="lay-up-end"),
    path("api/", api_page, name="api-page"),
    path("systems/", machine_tokens, name="machine-tokens"),
    path("systems/<int:pk>/take-back/", machine_token_revoke, name="machine-token-revoke"),
    path("sign-in/", sign_in, name="sign-in"),
    path("sign-out/", LogoutView.as_view(), name="sign-out"),
]
