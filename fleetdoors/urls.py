"""Addresses of what we have, and of the way in."""

from django.contrib.auth.views import LoginView, LogoutView
from django.urls import path

from fleetdoors.views.health import health

urlpatterns = [
    path("healthz", health, name="health"),
    path("sign-in/", LoginView.as_view(redirect_authenticated_user=True), name="sign-in"),
    path("sign-out/", LogoutView.as_view(), name="sign-out"),
]
