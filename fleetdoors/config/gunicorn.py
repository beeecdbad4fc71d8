"""The web server of a served install: gunicorn -c python:fleetdoors.config.gunicorn"""

import multiprocessing

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
