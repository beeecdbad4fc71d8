"""The worker's way in."""

from celery import Celery

from fleetdoors.config.start import load_settings

load_settings()
app = Celery("fleetdoors")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks(["inspections", "analytics"])
