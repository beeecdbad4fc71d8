"""What checks of a component found before it failed, and what they missed."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from analytics.models.computation import DerivedQuerySet, generation, link


class CheckEvidenceQuerySet(DerivedQuerySet):
    """Rows by generation."""


class CheckEvidence(models.Model):
    """Checks of one component, defects found at them, failures between them, likely delays."""

    generation = generation()
    component = link("fleetdoors.Component", _("component"))
    checks = models.PositiveIntegerField(_("checks"))
    found = models.PositiveIntegerField(_("found at a check before it failed"))
    failed = models.PositiveIntegerField(_("failed between checks"))
    usual_cycles = models.FloatField(_("cycles between checks, median"), null=True)
    figures = models.JSONField(_("likely delays from sign to failure"), default=dict)

    objects = CheckEvidenceQuerySet.as_manager()

    class Meta:
        verbose_name = _("evidence of checks")
        verbose_name_plural = _("evidence of checks")
        constraints = (
            models.UniqueConstraint(
                fields=("generation", "component"), name="check_evidence_unique"
            ),
        )

    def __str__(self) -> str:
        return f"{self.component_id} · {self.found}/{self.failed}"
