"""What a thousand cycles cost: parts, work and invoices from outside, and how far that is known."""

from __future__ import annotations

from collections.abc import Callable

from django.utils.translation import gettext as _

from analytics.datasets.score import fetch_prices
from analytics.models import Measure
from analytics.reports.score_measures import Line, against_most
from analytics.reports.score_sums import ScoreTable, Sums
from fleetdoors.templatetags.units import number, per_cent

# Counted in tens of thousands, money for each thousand.
THOUSAND = 1_000.0
_MINUTES_AN_HOUR = 60.0
SumsOf = Callable[[Measure], Sums]


def cost_per_thousand(sums: SumsOf, rate: float | None) -> float | None:
    """Money for a thousand cycles; `rate`: an hour's price in place of the depots' own."""
    parts, outside = sums(Measure.PARTS_COST), sums(Measure.OUTSIDE)
    if parts.base <= 0:
        return None
    if rate is None:
        work = sums(Measure.LABOUR_COST).total
    else:
        work = rate * sums(Measure.LABOUR).total / _MINUTES_AN_HOUR
    return THOUSAND * (parts.total + work + outside.total) / parts.base


def cost_line(table: ScoreTable, rate: float | None) -> Line:
    """The measure with its months, and what it leaves out."""

    def past(measure: Measure) -> Sums:
        return table.whole(measure).past

    def month(k: int) -> SumsOf:
        return lambda measure: table.whole(measure).month(k)

    by_month = [cost_per_thousand(month(k), rate) for k in range(len(table.months))]
    return Line.of(
        key="cost",
        label=_("Cost of 1,000 cycles"),
        value=number(cost_per_thousand(past, rate), 2),
        unit=_("%(currency)s over %(n)s cycles")
        % {
            "currency": fetch_prices().currency or _("in the parts' currency"),
            "n": number(past(Measure.PARTS_COST).base),
        },
        note=" ".join(_known(past, rate)),
        shares=against_most(by_month),
        months=table.months,
        texts=[number(each, 2) for each in by_month],
        definition=_(
            "Parts used at today's price, invoices from outside, and work at the price of an hour "
            "at its depot on its day, or at the price typed above. Work takes the minutes noted at "
            "the end of each visit; where none were, the catalogue's minutes of each task with "
            "those of a visit, and an hour for each call, an assumption. Minutes belong to visits; "
            "none are kept for a person. What a truck off the road costs is not in it."
        ),
        formula=_("1,000 × (parts + outside invoices + hours × price of an hour) ÷ cycles run"),
    )


def _known(past: SumsOf, rate: float | None) -> list[str]:
    """How many visits had their minutes, and what counts as nothing."""
    timed, unrated = past(Measure.TIMED), past(Measure.UNRATED)
    unpriced, other = past(Measure.UNPRICED), past(Measure.OUTSIDE_ELSE)
    said = []
    if timed.base:
        said.append(
            _("%(n)s of %(all)s visits had their own minutes; the others take the catalogue's.")
            % {"n": number(timed.total), "all": number(timed.base)}
        )
    if rate is None and unrated.total and unrated.total >= unrated.base:
        said.append(_("Without the work: no depot has the price of an hour in this currency."))
    elif rate is None and unrated.total:
        said.append(
            _("%(share)s of the minutes have no price of an hour and count as nothing.")
            % {"share": per_cent(unrated.share)}
        )
    if unpriced.total:
        said.append(
            _("%(n)s of %(all)s pieces have no price in this currency and count as nothing.")
            % {"n": number(unpriced.total), "all": number(unpriced.base)}
        )
    if other.total:
        said.append(
            _("%(n)s of %(all)s outside invoices are in another currency and not in it.")
            % {"n": number(other.total), "all": number(other.base)}
        )
    return said
