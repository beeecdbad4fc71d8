"""How long components last in this fleet."""

from django.db import models
from django.utils.translation import gettext_lazy as _

from analytics.models.computation import DerivedQuerySet, generation, link


class Evidence(models.TextChoices):
    """Whether a life rests on this fleet's lives or on what is usual for the family."""

    DATA = "data", _("data")
    MOSTLY_PRIOR = "mostly prior", _("mostly prior")
    NONE = "", _("no life on record")


class ComponentLifeQuerySet(DerivedQuerySet):
    """Rows by generation."""


class ComponentLife(models.Model):
    """A component's life: maximum likelihood with standard errors, and the posterior."""

    generation = generation()
    component = link("fleetdoors.Component", _("component"))
    lives = models.PositiveIntegerField(_("lives"))
    failures = models.PositiveIntegerField(_("failures"))
    suspended = models.PositiveIntegerField(_("suspended"))
    shape = models.FloatField(_("shape"), null=True)
    scale_cycles = models.FloatField(_("scale, cycles"), null=True)
    shape_se = models.FloatField(_("shape, standard error"), null=True)
    scale_se = models.FloatField(_("scale, standard error"), null=True)
    loglik = models.FloatField(_("log likelihood"), null=True)
    shape_median = models.FloatField(_("shape, median"), null=True)
    shape_lower = models.FloatField(_("shape, lower"), null=True)
    shape_upper = models.FloatField(_("shape, upper"), null=True)
    scale_median = models.FloatField(_("scale, median"), null=True)
    scale_lower = models.FloatField(_("scale, lower"), null=True)
    scale_upper = models.FloatField(_("scale, upper"), null=True)
    b10_median = models.FloatField(_("age by which 10 % have failed, median"), null=True)
    b10_lower = models.FloatField(_("age by which 10 % have failed, lower"), null=True)
    b10_upper = models.FloatField(_("age by which 10 % have failed, upper"), null=True)
    evidence = models.CharField(_("evidence"), max_length=20, choices=Evidence, blank=True)
    fit_p = models.FloatField(_("goodness of fit, p"), null=True)
    reason = models.CharField(_("why not estimated"), max_length=300, blank=True)

    objects = ComponentLifeQuerySet.as_manager()

    class Meta:
        ordering = ("component__name",)
        verbose_name = _("life of a component")
        verbose_name_plural = _("lives of components")
        constraints = (
            models.UniqueConstraint(
                fields=("generation", "component"), name="component_life_unique"
            ),
        )

    def __str__(self) -> str:
        return f"{self.component_id} · {self.failures}"
