"""A mean between failures with its bounds, in words that do not say more than is known."""

from __future__ import annotations

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from analytics.kernel.mcbf import McbfEstimates
from fleetdoors.templatetags.units import between, cycles, number, per_cent

# With fewer failures than this the place in an order is chance.
FAILURES_TO_RANK = 5


def finding(labels: list[str], found: McbfEstimates, order: list[int]) -> str:
    """Who has the fewest cycles between failures, and whether the order is more than chance."""
    if len(labels) == 1:
        return _("There is only one group, so there is nothing to compare it with.")
    ranked = [k for k in order if found.failures[k] >= FAILURES_TO_RANK]
    if len(ranked) < 2:
        return _(
            "Too few failures to put the groups in an order: fewer than two have %(least)d or more."
        ) % {"least": FAILURES_TO_RANK}
    first, second = ranked[0], ranked[1]
    said = _("%(group)s: fewest cycles between failures, %(mcbf)s (%(range)s).") % {
        "group": labels[first],
        "mcbf": number(found.mcbf_cycles[first]),
        "range": between(found.lower_cycles[first], found.upper_cycles[first]),
    }
    if found.upper_cycles[first] < found.lower_cycles[second]:
        return said
    return _("%(said)s Its range overlaps that of %(next)s, so their order is not proven.") % {
        "said": said,
        "next": labels[second],
    }


def note(found: McbfEstimates, k: int, doors: int) -> str:
    """How many doors, cycles and failures a figure rests on."""
    failed = int(found.failures[k])
    counted = " · ".join(
        (
            ngettext("%(n)s door", "%(n)s doors", doors) % {"n": number(doors)},
            cycles(found.exposure_cycles[k]),
            ngettext("%(n)s failure", "%(n)s failures", failed) % {"n": number(failed)},
        )
    )
    if 0 < failed < FAILURES_TO_RANK:
        return _("%(counted)s: too few to compare") % {"counted": counted}
    return counted


def value(found: McbfEstimates, k: int) -> str:
    """The figure itself, or the bound in its place."""
    if found.bound[k] == "none":
        return _("no figure")
    if found.bound[k] == "lower-only":
        return between(float(found.lower_cycles[k]), None)
    return number(float(found.mcbf_cycles[k]))


def words(found: McbfEstimates, k: int) -> str:
    """The bounds, and how sure they are."""
    sure = per_cent(found.confidence)
    if found.bound[k] == "none":
        return _("no cycles on record")
    if found.bound[k] == "lower-only":
        return _("no failure yet; %(sure)s sure of that much") % {"sure": sure}
    return _("%(range)s, %(sure)s sure") % {
        "range": between(float(found.lower_cycles[k]), float(found.upper_cycles[k])),
        "sure": sure,
    }
