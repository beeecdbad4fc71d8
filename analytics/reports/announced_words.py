"""Announced changes in words."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from analytics.demand_reason import announced_pieces
from analytics.models import PartOutlook
from analytics.reports.evidence import Evidence
from analytics.reports.part_words import amount
from fleetdoors.templatetags.units import day as full_day
from fleetdoors.templatetags.units import number
from inspections.models import AnnouncedChange, AnnouncedKind

LEAST_PIECES = 0.05


def what_words(row: AnnouncedChange) -> str:
    """What is coming, in a line."""
    return _WORDS[row.kind](row)


def _trucks(row: AnnouncedChange) -> str:
    return ngettext(
        "%(n)s new door of model %(model)s, at %(rate)s cycles a day",
        "%(n)s new doors of model %(model)s, each at %(rate)s cycles a day",
        row.doors or 0,
    ) % {
        "n": number(row.doors),
        "model": row.door_model,
        "rate": number(row.cycles_per_day, 0 if float(row.cycles_per_day or 0).is_integer() else 1),
    }


def _use(row: AnnouncedChange) -> str:
    who = _("routes “%(kind)s”") % {"kind": row.route_kind} if row.route_kind else _("every route")
    return _("%(factor)s times the use of today, %(who)s") % {
        "factor": number(row.factor, 2),
        "who": who,
    }


def _campaign(row: AnnouncedChange) -> str:
    pieces = ngettext("%(n)s piece on each", "%(n)s pieces on each", row.pieces_per_door or 0) % {
        "n": number(row.pieces_per_door)
    }
    facts = {"new": row.new_part, "old": row.part, "doors": number(row.doors), "pieces": pieces}
    if row.part_id == row.new_part_id:
        return _("%(new)s changed on %(doors)s doors, %(pieces)s") % facts
    return _("%(new)s in place of %(old)s on %(doors)s doors, %(pieces)s") % facts


_WORDS = {
    AnnouncedKind.TRUCKS.value: _trucks,
    AnnouncedKind.USE.value: _use,
    AnnouncedKind.CAMPAIGN.value: _campaign,
}


def when_words(row: AnnouncedChange) -> str:
    """From when, and until when where it ends."""
    since = _("from %(day)s") % {"day": full_day(row.from_on)}
    if row.until_on is None:
        return since
    return _("%(since)s until %(day)s") % {"since": since, "day": full_day(row.until_on)}


def state_words(row: AnnouncedChange, came: int, today: date) -> str:
    """Where it stands: what of it has come, or that it is over."""
    if row.kind == AnnouncedKind.TRUCKS:
        waiting = (row.doors or 0) - came
        if waiting <= 0:
            return _("all of them are on record, so nothing more is counted")
        said = _("%(came)s of %(all)s on record") % {"came": number(came), "all": row.doors}
        if row.from_on < today:
            said = _("%(said)s; the rest should have come, and counts as if it came today") % {
                "said": said
            }
        return said
    if row.until_on and row.until_on < today:
        return _("over")
    if row.from_on > today:
        return _("still to begin")
    return _("under way")


def of_this_announced(explanation: Mapping[str, float | str | None], mean: float) -> str:
    """Of the pieces needed, those of announced changes; nothing where none concerns the part."""
    pieces = announced_pieces(explanation)
    if pieces is None or abs(pieces) < LEAST_PIECES:
        return ""
    if pieces < 0:
        return _("%(pieces)s fewer than without announced changes") % {"pieces": amount(-pieces)}
    return _("of this %(pieces)s from announced changes") % {"pieces": amount(min(pieces, mean))}


def kinds_words(row: PartOutlook) -> str:
    """How many pieces each kind of announced change makes."""
    labels = {
        "announced_trucks": _("new trucks %(pieces)s"),
        "announced_use": _("another use %(pieces)s"),
        "announced_campaign": _("a part changed on many doors %(pieces)s"),
    }
    said = [
        label % {"pieces": signed(float(row.explanation[name]))}
        for name, label in labels.items()
        if name in row.explanation
    ]
    return ", ".join(said)


def announced_evidence(row: PartOutlook) -> list[Evidence]:
    """What announced changes make of the need, kind by kind; nothing where none concerns it."""
    pieces = announced_pieces(row.explanation)
    if pieces is None:
        return []
    value = _("%(pieces)s pieces") % {"pieces": signed(pieces)}
    return [Evidence(_("Of this, announced"), value, kinds_words(row))]


def signed(pieces: float) -> str:
    """Pieces more or fewer, with their sign."""
    if abs(pieces) < LEAST_PIECES:
        return "0"
    return f"{'+' if pieces > 0 else '−'}{amount(abs(pieces))}"
