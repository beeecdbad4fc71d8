"""Why so many of a part should be ordered: the figures behind it, and how they go together."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from analytics.datasets.clock import EPOCH_DATE
from analytics.kernel.stock import RECEIPTS_ENOUGH
from analytics.models import DemandMethod, PartOutlook
from analytics.reports.announced_words import announced_evidence
from analytics.reports.evidence import Evidence
from analytics.reports.part_words import amount, method_words, order_words
from fleetdoors.templatetags.units import between, cycles, moment, number, per_cent, per_day
from fleetdoors.templatetags.units import day as full_day
from inspections.models import StockCount


@dataclass(frozen=True)
class WhyOrder:
    """Everything behind one suggestion."""

    sentence: str
    not_yet: str
    evidence: list[Evidence]
    formula: str


def why_order(row: PartOutlook, count: StockCount | None) -> WhyOrder:
    """The figures behind an order, in the order in which they are put together."""
    return WhyOrder(
        sentence=_sentence(row),
        not_yet=_not_yet(row),
        evidence=[*_need(row), *_lead(row), *_levels(row), *_shelf(row, count)],
        formula=_formula(row),
    )


def _sentence(row: PartOutlook) -> str:
    if row.on_hand is None:
        return _("This shelf was never counted, so no order can be suggested. Count it first.")
    if row.suggested_order:
        return _("Order %(pieces)s: what is on hand and on order has come down to the level.") % {
            "pieces": order_words(row)
        }
    return _("Order nothing now: what is on hand and on order is above the level.")


def _not_yet(row: PartOutlook) -> str:
    """What the forecast leaves out, so that nobody takes it for more than it is."""
    if row.method == DemandMethod.NONE:
        return _(
            "Nothing was used on record and no life is known, so this forecast of nothing is weak."
        )
    if row.method == DemandMethod.HISTORY:
        return _("The ages of the fitted parts are not in it: their life is not known well enough.")
    if row.explanation.get("factor") is None:
        return _("Not yet in it: a correction by how well the past weeks were foreseen.")
    return ""


def _need(row: PartOutlook) -> list[Evidence]:
    needed = Evidence(
        _("Needed in %(days)s days") % {"days": number(row.horizon_days)},
        _("%(mean)s pieces") % {"mean": amount(row.mean)},
        _("%(range)s, 8 times in 10; %(method)s")
        % {"range": between(row.p10, row.p90), "method": method_words(row)},
    )
    by_method = {DemandMethod.BASE.value: _base, DemandMethod.HISTORY.value: _history}
    rest = by_method.get(row.method)
    return [needed, *announced_evidence(row), *(rest(row) if rest else [])]


def _base(row: PartOutlook) -> list[Evidence]:
    basis = row.explanation
    unknown = int(basis.get("unknown_ages") or 0)
    age = basis.get("age_cycles")
    lines = [
        Evidence(
            _("Fitted there"),
            number(basis.get("positions")),
            ngettext("%(n)s of unknown age", "%(n)s of unknown age", unknown)
            % {"n": number(unknown)},
        ),
        Evidence(
            _("Mean age"),
            cycles(age),
            _("at %(rate)s on the average") % {"rate": per_day(basis.get("cycles_per_day"))},
        ),
        Evidence(
            _("Life"),
            _("shape %(shape)s") % {"shape": number(basis.get("shape"), 2)},
            _("63 of 100 have failed by %(scale)s; from %(n)s failures of the whole fleet")
            % {"scale": cycles(basis.get("scale_cycles")), "n": number(basis.get("failures"))},
        ),
    ]
    kept = lines if age is not None else [lines[0], lines[2]]
    return [*kept, *_learned(row), *_besides_failures(row)]


def _learned(row: PartOutlook) -> list[Evidence]:
    """How often parts fail against what their age says, where past weeks were looked at."""
    basis = row.explanation
    if basis.get("factor") is None:
        return []
    return [
        Evidence(
            _("Learned from past weeks"),
            _("× %(factor)s") % {"factor": number(basis["factor"], 2)},
            _("parts fail so many times as often as their age says; from %(weeks)s weeks")
            % {"weeks": number(basis.get("factor_weeks"))},
        )
    ]


def _besides_failures(row: PartOutlook) -> list[Evidence]:
    """What is changed by plan, and what comes off for another reason."""
    basis, lines = row.explanation, []
    if basis.get("planned_at_cycles"):
        lines.append(
            Evidence(
                _("Changed by plan"),
                _("at %(age)s") % {"age": cycles(basis["planned_at_cycles"])},
                _("taken from the changes on record; they are in the need"),
            )
        )
    if basis.get("taken_along"):
        lines.append(
            Evidence(
                _("For another reason"),
                _("%(n)s pieces") % {"n": number(basis["taken_along"])},
                _("in %(weeks)s weeks on record, besides failures and planned changes")
                % {"weeks": number(basis.get("weeks"))},
            )
        )
    return lines


def _history(row: PartOutlook) -> list[Evidence]:
    basis = row.explanation
    return [
        Evidence(
            _("Used on record"),
            _("%(n)s pieces") % {"n": number(basis.get("used"))},
            _("in the last %(weeks)s weeks at this depot; the life is not known well enough")
            % {"weeks": number(basis.get("weeks"))},
        )
    ]


def _lead(row: PartOutlook) -> list[Evidence]:
    basis = row.explanation
    assumed = _("assumed: the catalogue says nothing") if basis.get("lead_is_assumed") else ""
    spread = _("give or take %(sd)s days") % {"sd": number(basis.get("lead_sd_days"))}
    receipts = int(basis.get("lead_receipts") or 0)
    if receipts:
        assumed = ngettext(
            "learned from %(n)s delivery", "learned from %(n)s deliveries", receipts
        ) % {"n": number(receipts)}
        if receipts < RECEIPTS_ENOUGH:
            assumed = _("%(learned)s, with the catalogue's as four more") % {"learned": assumed}
    return [
        Evidence(
            _("Lead time"),
            _("%(days)s days") % {"days": number(basis.get("lead_days"))},
            "; ".join(each for each in (spread, assumed) if each),
        )
    ]


def _levels(row: PartOutlook) -> list[Evidence]:
    basis = row.explanation
    wanted = _("chance of no shortage until an order arrives")
    if basis.get("service_is_assumed"):
        wanted = _("%(what)s; assumed: the depot says nothing") % {"what": wanted}
    return [
        Evidence(_("Service level wanted"), per_cent(row.service_level, 1), wanted),
        Evidence(
            _("Order at"),
            number(row.reorder_point),
            _("need over the lead time is %(mean)s; it stays within this %(service)s of the time")
            % {
                "mean": number(basis.get("lead_mean"), 1),
                "service": per_cent(row.service_level, 1),
            },
        ),
        Evidence(
            _("Order up to"),
            number(row.order_up_to),
            _("the same over the lead time and %(days)s days until the next look; need %(mean)s")
            % {
                "days": number(basis.get("review_days")),
                "mean": number(basis.get("protected_mean"), 1),
            },
        ),
        Evidence(
            _("Fill rate"),
            per_cent(row.fill_rate, 1),
            _("share of the pieces asked for that the shelf can give; not the service level"),
        ),
    ]


def _shelf(row: PartOutlook, count: StockCount | None) -> list[Evidence]:
    if row.on_hand is None:
        return []
    return [
        Evidence(_("On hand"), number(row.on_hand), _counted(row, count)),
        Evidence(_("On order"), number(row.on_order), _expected(row) if row.on_order else ""),
        Evidence(
            _("Kept for planned work"),
            number(reserved_of(row)),
            _("spoken for by visits and by faults that were traced"),
        ),
    ]


def _counted(row: PartOutlook, count: StockCount | None) -> str:
    """When the shelf was counted last, and what moved since."""
    if count is None or row.on_hand is None:
        return _("never counted; what was delivered and taken")
    moved = row.on_hand - count.on_hand
    note = _("counted %(moment)s") % {"moment": moment(count.counted_at)}
    if not moved:
        return note
    facts = {"note": note, "counted": number(count.on_hand), "moved": number(abs(moved))}
    if moved < 0:
        return _("%(note)s as %(counted)s, %(moved)s fewer since") % facts
    return _("%(note)s as %(counted)s, %(moved)s more since") % facts


def _expected(row: PartOutlook) -> str:
    day = expected_on(row)
    if day is None:
        return _("day of arrival not noted; taken as one lead time from now")
    return _("expected %(day)s") % {"day": full_day(day)}


def expected_on(row: PartOutlook) -> date | None:
    """The first day on which something on order is expected, None where none was named."""
    noted = row.explanation.get("expected_day")
    return None if noted is None else EPOCH_DATE + timedelta(days=int(noted))


def reserved_of(row: PartOutlook) -> int:
    """Pieces spoken for at the time of the row."""
    return int(row.explanation.get("reserved") or 0)


def _formula(row: PartOutlook) -> str:
    if row.on_hand is None:
        return ""
    on_order = row.on_order or 0
    reserved = reserved_of(row)
    position = row.on_hand + on_order - reserved
    facts = {
        "hand": row.on_hand,
        "order": on_order,
        "reserved": reserved,
        "position": position,
    }
    start = _("position = %(hand)s on hand + %(order)s on order = %(position)s") % facts
    if reserved:
        start = (
            _("position = %(hand)s on hand + %(order)s on order − %(reserved)s kept = %(position)s")
            % facts
        )
    if not row.suggested_order:
        return _("%(start)s;  above %(point)s, so nothing") % {
            "start": start,
            "point": row.reorder_point,
        }
    return _(
        "%(start)s;  not above %(point)s, so up to %(level)s: %(level)s − %(position)s = "
        "%(missing)s, in packs of %(pack)s = %(pieces)s"
    ) % {
        "start": start,
        "point": row.reorder_point,
        "level": row.order_up_to,
        "position": position,
        "missing": row.order_up_to - position,
        "pack": row.part.pack_size,
        "pieces": row.suggested_order,
    }
