"""Who may enter, as what, and for which depots."""

from django.contrib.auth.models import AbstractUser
from django.db import models
from django.utils.translation import gettext_lazy as _

from fleetdoors.models.depot import Depot


class Role(models.TextChoices):
    """What a person does here."""

    PLANNER = "planner", _("Maintenance planner")
    TECHNICIAN = "technician", _("Technician")
    BUYER = "buyer", _("Parts buyer")
    ADMINISTRATOR = "administrator", _("Administrator")


class User(AbstractUser):
    """A person with one role, who sees the depots named or, when none is named, all of them."""

    role = models.CharField(_("role"), max_length=20, choices=Role, default=Role.TECHNICIAN)
    depots = models.ManyToManyField(
        Depot,
        blank=True,
        verbose_name=_("depots"),
        help_text=_("Leave empty to let this person see every depot."),
    )

    class Meta(AbstractUser.Meta):
        db_table = "fleetdoors_user"

    def __str__(self) -> str:
        return self.get_full_name() or self.username

    def has_any_role(self, *roles: str) -> bool:
        """Whether one of the roles is this person's; a superuser and an administrator have all."""
        return self.is_superuser or self.role == Role.ADMINISTRATOR or self.role in roles

    def sees_every_depot(self) -> bool:
        """Whether no depot is named for this person; queries."""
        return self.is_superuser or not self.depots.exists()
