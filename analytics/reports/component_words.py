"""What a life rests on, and what its shape means, in plain words."""

from __future__ import annotations

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from analytics.reports.component_evidence import ComponentEvidence
from analytics.reports.kernel_words import why_missing
from fleetdoors.templatetags.units import number

# Below this chance a curve that fits well would look as bad as this one.
POOR_FIT = 0.05


def shape_words(lower: float | None, upper: float | None) -> str:
    """Whether the part wears out, as far as the interval of the shape tells."""
    if lower is None or upper is None:
        return _("of unknown shape")
    if lower > 1:
        return _("wears out")
    if upper < 1:
        return _("fails early or not at all")
    return _("fails at any age, as far as can be told")


def about(value: float) -> str:
    """Cycles to three digits: more would be read as sureness."""
    return number(float(f"{value:.3g}"))


def lives_words(found: ComponentEvidence) -> str:
    """How many lives, failed and not, and what was left out."""
    life, figures = found.life, found.figures
    said = ngettext(
        "%(lives)s life: %(failed)s failed, %(suspended)s had not (still fitted, or taken off "
        "for another reason).",
        "%(lives)s lives: %(failed)s failed, %(suspended)s had not (still fitted, or taken off "
        "for another reason).",
        life.lives,
    ) % {
        "lives": number(life.lives),
        "failed": number(life.failures),
        "suspended": number(life.suspended),
    }
    extra = [said, *_left_out(figures.get("left_out", 0))]
    between_readings = figures.get("between_readings", 0)
    if between_readings:
        extra.append(
            ngettext(
                "%(n)s failure is known only to lie between two readings.",
                "%(n)s failures are known only to lie between two readings.",
                between_readings,
            )
            % {"n": number(between_readings)}
        )
    return " ".join(extra)


def _left_out(count: int) -> list[str]:
    if not count:
        return []
    said = ngettext(
        "%(n)s of unknown age is left out.", "%(n)s of unknown age are left out.", count
    )
    return [said % {"n": number(count)}]


def prior_words(found: ComponentEvidence) -> str:
    """The warning that a life rests on what is usual, or nothing."""
    if not found.is_known or not found.is_mostly_prior:
        return ""
    return ngettext(
        "Mostly prior: with %(n)s failure this life rests on what is usual for parts of this "
        "family more than on this fleet.",
        "Mostly prior: with %(n)s failures this life rests on what is usual for parts of this "
        "family more than on this fleet.",
        found.life.failures,
    ) % {"n": number(found.life.failures)}


def fit_words(found: ComponentEvidence) -> str:
    """Whether one Weibull curve describes the lives."""
    p = found.life.fit_p
    if p is None:
        bands = found.figures.get("bands") or {}
        reason = found.life.reason or bands.get("reason") or ""
        return why_missing(reason) or _("The fit was not checked.")
    if p < POOR_FIT:
        return _(
            "One Weibull curve describes these lives badly (p %(p)s). Two ways of failing may be "
            "mixed: look at the failure rate by age."
        ) % {"p": number(p, 3)}
    return _("Nothing speaks against one Weibull curve (p %(p)s).") % {"p": number(p, 2)}
