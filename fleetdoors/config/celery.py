"""The worker's way in."""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "fleetdoors.config.settings")

app = Celery("fleetdoors")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks(["analytics"])
