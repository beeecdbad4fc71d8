"""What a buyer ticked on the list of today: lines as they stand, with quantities of the buyer's."""

from __future__ import annotations

from dataclasses import dataclass

from django.http import QueryDict
from django.utils.translation import gettext as _

from analytics.reports.order_today import LineToday
from inspections.services.drafting import WantedFrom
from inspections.services.ordering import Wanted

MOST_PIECES = 100_000


@dataclass(frozen=True)
class Ticked:
    """What becomes lines of orders, and what is wrong with the rest, by the line's key."""

    keys: frozenset[str]
    wanted: list[WantedFrom]
    errors: dict[str, str]
    quantities: dict[str, str]


def read_ticked(posted: QueryDict, lines: list[LineToday]) -> Ticked:
    """The lines ticked, each checked; a line that is gone by now is passed over."""
    keys = frozenset(posted.getlist("take"))
    wanted: list[WantedFrom] = []
    errors: dict[str, str] = {}
    quantities = {line.key: posted.get(f"pieces-{line.key}", "").strip() for line in lines}
    for line in lines:
        if line.key not in keys:
            continue
        pieces = _pieces(quantities[line.key])
        if line.price is None:
            errors[line.key] = _("Nobody sells it on record: add a supplier's price first.")
        elif pieces is None:
            errors[line.key] = _("A quantity is a whole number from 1 to %(most)s.") % {
                "most": MOST_PIECES
            }
        else:
            why = _("Suggested %(n)s; stock at or below %(point)s.") % {
                "n": line.row.suggested_order,
                "point": line.row.reorder_point,
            }
            wanted.append(
                WantedFrom(line.price.supplier, line.row.depot, Wanted(line.part, pieces, why=why))
            )
    return Ticked(keys, wanted, errors, quantities)


def _pieces(text: str) -> int | None:
    """A whole number of pieces, None for anything else."""
    if not text.isascii() or not text.isdecimal() or len(text) > len(str(MOST_PIECES)):
        return None
    return int(text) if 1 <= int(text) <= MOST_PIECES else None
