"""Addresses of what we have, and of the way in."""

from django.contrib.auth.views import LogoutView
from django.urls import path, register_converter

from fleetdoors.converters import KeyConverter
from fleetdoors.views.gallery import gallery
from fleetdoors.views.health import health
from fleetdoors.views.jump import jump
from fleetdoors.views.sign_in import sign_in

register_converter(KeyConverter, "key")

urlpatterns = [
    path("healthz", health, name="health"),
    path("gallery/", gallery, name="gallery"),
    path("jump/", jump, name="jump"),
    path("sign-in/", sign_in, name="sign-in"),
    path("sign-out/", LogoutView.as_view(), name="sign-out"),
]
