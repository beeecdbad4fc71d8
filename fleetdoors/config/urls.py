"""Which app answers which address."""

from django.contrib import admin
from django.urls import include, path

from fleetdoors.config.api import api

urlpatterns = [
    path("admin/", admin.site.urls),
    path("", include("fleetdoors.urls")),
    path("", include("inspections.urls")),
    path("", include("analytics.urls")),
    path("api/", api.urls),
]
