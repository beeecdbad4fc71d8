"""The web server of a served install: gunicorn -c python:fleetdoors.config.gunicorn"""

import multiprocessing
from typing import Any

import structlog
from django.conf import settings

from fleetdoors.config.start import load_settings

load_settings()
wsgi_app = "fleetdoors.config.wsgi"
bind = f"{settings.HOST}:{settings.PORT}"
# The program is loaded once, before the workers fork: what stops it stops the whole start.
preload_app = True
workers = min(4, 1 + multiprocessing.cpu_count())
worker_class = "gthread"
threads = 4
timeout = 120
# With a certificate of its own it speaks TLS itself: enough for a trial on a yard's own network.
certfile = settings.TLS_CERTIFICATE or None
keyfile = settings.TLS_CERTIFICATE or None
# Then nobody is in front of it whose word on the scheme counts.
forwarded_allow_ips = "" if settings.TLS_CERTIFICATE else "127.0.0.1,::1"


def when_ready(_server: Any) -> None:
    """Warn of what a served install should not be without."""
    if not settings.PUBLIC_ADDRESS:
        structlog.get_logger("fleetdoors").warning(
            "public_address_missing",
            note="Set PUBLIC_ADDRESS: without it labels carry the address that happened to be "
            "typed when they were printed, and phones keep nothing unless it starts with https.",
        )
