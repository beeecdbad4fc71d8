"""Components: the positions of a door unit at which parts are fitted and fail."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from fleetdoors.shipped_words import in_readers_words


class ComponentKind(models.TextChoices):
    """Families whose lives are alike before the fleet's own are known."""

    ELECTRONIC = "electronic", _("electronic")
    ELECTRICAL = "electrical", _("electrical")
    MECHANICAL = "mechanical", _("mechanical")
    FATIGUE = "fatigue", _("spring or cable")


class Component(models.Model):
    """A kind of position in the door unit, with people's name for it."""

    code = models.SlugField(_("component"), max_length=40, unique=True)
    name = models.CharField(_("name"), max_length=100)
    kind = models.CharField(
        _("kind"), max_length=20, choices=ComponentKind, default=ComponentKind.MECHANICAL
    )

    class Meta:
        ordering = ("name",)
        verbose_name = _("component")
        verbose_name_plural = _("components")

    def __str__(self) -> str:
        return in_readers_words(self.name)
