"""Cautions: what can hurt, how, and what to do."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from fleetdoors.shipped_words import in_readers_words


class SignalWord(models.TextChoices):
    """The signal words of ANSI Z535.6 and ISO 3864-2, strongest first."""

    DANGER = "danger", _("DANGER")
    WARNING = "warning", _("WARNING")
    CAUTION = "caution", _("CAUTION")
    NOTICE = "notice", _("NOTICE")


class Caution(models.Model):
    """A caution text that tasks and steps refer to; the shop may word it anew."""

    code = models.CharField(_("code"), max_length=10, unique=True)
    signal_word = models.CharField(_("signal word"), max_length=10, choices=SignalWord)
    text = models.TextField(_("text"))

    class Meta:
        ordering = ("code",)
        verbose_name = _("caution")
        verbose_name_plural = _("cautions")

    def __str__(self) -> str:
        return f"{self.get_signal_word_display()}: {self.words}"

    @property
    def words(self) -> str:
        """The text as it is shown: in the reader's language unless the shop worded it anew."""
        return in_readers_words(self.text)
