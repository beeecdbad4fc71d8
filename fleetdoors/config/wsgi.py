"""The web server's way in."""

from django.core.wsgi import get_wsgi_application

from fleetdoors.config.start import load_settings

load_settings()
application = get_wsgi_application()
