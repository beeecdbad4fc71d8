from django.apps import AppConfig
from django.utils.translation import gettext_lazy as _


class FleetdoorsConfig(AppConfig):
    name = "fleetdoors"
    verbose_name = _("What we have")
