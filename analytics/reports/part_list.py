"""What will run out, and when: parts by depot, and what to order of them."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Count, F, Q, Sum
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from analytics.models import PartOutlook
from analytics.models.part_outlook import PartOutlookQuerySet
from analytics.reports.basis import Basis
from analytics.reports.reliability_page import computed_words
from fleetdoors.models import Part
from fleetdoors.templatetags.units import number


@dataclass(frozen=True)
class PartChoice:
    """What a person wants listed; empty means every one."""

    depot_id: int | None = None
    words: str = ""
    only_to_order: bool = False


@dataclass(frozen=True)
class PartsSummary:
    """The answer in sentences above the list; `empty` says what to do first, if anything."""

    lead: str
    computed: str
    uncounted: str
    empty: str


def part_outlooks(
    choice: PartChoice, depot_ids: tuple[int, ...] | None, basis: Basis
) -> PartOutlookQuerySet:
    """The parts chosen, at depots a person may see, the soonest empty first."""
    rows: PartOutlookQuerySet = PartOutlook.objects.filter(generation=basis.run)
    rows = rows.at_depots(depot_ids)
    if choice.depot_id is not None:
        rows = rows.filter(depot=choice.depot_id)
    if choice.only_to_order:
        rows = rows.to_order()
    for word in choice.words.split():
        rows = rows.filter(
            Q(part__part_number__icontains=word)
            | Q(part__name__icontains=word)
            | Q(part__component__name__icontains=word)
        )
    return rows.with_links().soonest_out_first()


def parts_summary(rows: PartOutlookQuerySet, basis: Basis) -> PartsSummary:
    """How much of what is listed should be ordered, and what could not be said; queries 3 times."""
    counted = rows.order_by().aggregate(
        lines=Count("pk"),
        to_order=Count("pk", filter=Q(suggested_order__gt=0)),
        uncounted=Count("pk", filter=Q(on_hand__isnull=True)),
    )
    return PartsSummary(
        lead=_lead(counted["lines"], counted["to_order"], rows),
        computed=computed_words(basis),
        uncounted=_uncounted(counted["lines"], counted["uncounted"]),
        empty=_empty(basis),
    )


def _lead(lines: int, to_order: int, rows: PartOutlookQuerySet) -> str:
    if not lines:
        return ""
    said = ngettext(
        "%(n)s of %(lines)s shelf should be filled up today",
        "%(n)s of %(lines)s shelves should be filled up today",
        lines,
    ) % {"n": number(to_order), "lines": number(lines)}
    money = _money(rows) if to_order else ""
    return f"{said}{money}."


def _money(rows: PartOutlookQuerySet) -> str:
    """What the suggested orders cost, by currency, where costs are on record."""
    sums = (
        rows.to_order()
        .filter(part__unit_cost__isnull=False)
        .order_by()
        .values_list("part__currency")
        .annotate(cost=Sum(F("suggested_order") * F("part__unit_cost")))
        .order_by("part__currency")
    )
    named = [f"{number(float(cost))} {currency}".strip() for currency, cost in sums]
    return _(", for about %(money)s") % {"money": " + ".join(named)} if named else ""


def _uncounted(lines: int, uncounted: int) -> str:
    if not uncounted:
        return ""
    if uncounted == lines:
        return _(
            "No shelf was counted yet, so no order can be suggested. Count the stock of a depot, "
            "or bring in the table of stock. What will be needed stands below already."
        )
    return ngettext(
        "%(n)s shelf was never counted: no order is suggested for it.",
        "%(n)s shelves were never counted: no order is suggested for them.",
        uncounted,
    ) % {"n": number(uncounted)}


def _empty(basis: Basis) -> str:
    if basis.run is None:
        return _("No figures have been computed yet. Bring in a fleet; they follow by themselves.")
    if not Part.objects.exists():
        return _("The catalogue holds no part. Bring in the table of parts, or add one.")
    return ""
