"""The one way into the settings for the command line, the web server and the worker."""

import os
import sys

from django.conf import settings
from django.core.exceptions import ImproperlyConfigured

WRONG_USAGE = 2


def load_settings() -> None:
    """Load the settings, or end the process with the sentence that says which one is wrong."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "fleetdoors.config.settings")
    try:
        _ = settings.INSTALLED_APPS
    except ImproperlyConfigured as refusal:
        sys.stderr.write(f"{refusal}\n")
        raise SystemExit(WRONG_USAGE) from None
