"""What the life of a component rests on, small enough for a page to read in one row."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from analytics.models.computation import DerivedQuerySet, generation, link


class LifeEvidenceQuerySet(DerivedQuerySet):
    """Rows by generation."""


class LifeEvidence(models.Model):
    """Curve, age bands and likely lives of one component, worked out from every life of it."""

    generation = generation()
    component = link("fleetdoors.Component", _("component"))
    figures = models.JSONField(_("figures"), default=dict)

    objects = LifeEvidenceQuerySet.as_manager()

    class Meta:
        verbose_name = _("evidence of a component's life")
        verbose_name_plural = _("evidence of components' lives")
        constraints = (
            models.UniqueConstraint(
                fields=("generation", "component"), name="life_evidence_unique"
            ),
        )

    def __str__(self) -> str:
        return f"{self.component_id}"
