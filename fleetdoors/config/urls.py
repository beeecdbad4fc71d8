"""Which app answers which address."""

from django.contrib import admin
from django.urls import include, path

urlpatterns = [
    path("admin/", admin.site.urls),
    path("", include("fleetdoors.urls")),
    path("", include("inspections.urls")),
    path("", include("analytics.urls")),
]
