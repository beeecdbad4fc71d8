"""A part's outlook at one depot, in words."""

from __future__ import annotations

from datetime import date

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from analytics.models import DemandMethod, PartOutlook
from fleetdoors.templatetags.units import between, days_away, number
from fleetdoors.templatetags.units import day as full_day

FEW = 100


def needed_words(row: PartOutlook) -> str:
    """Expected pieces over the horizon, with the range of 8 times in 10."""
    return _("%(mean)s (%(range)s)") % {
        "mean": amount(row.mean),
        "range": between(row.p10, row.p90),
    }


def amount(value: float) -> str:
    """An expected number of pieces, with a decimal where that still says something."""
    return number(value, 1 if value < FEW else 0)


def run_out_words(row: PartOutlook, today: date) -> str:
    """When the shelf is likely to be empty, or why no day is given."""
    if row.on_hand is None:
        return _("never counted here")
    if row.on_hand <= 0 and row.run_out_on and row.run_out_on <= today:
        return _("empty now")
    if row.run_out_on is None:
        return _("not within two years") if row.mean > 0 else _("no need foreseen")
    return full_day(row.run_out_on)


def run_out_note(row: PartOutlook, today: date) -> str:
    """How far away that day is."""
    if row.on_hand is None or row.run_out_on is None or row.run_out_on <= today:
        return ""
    return days_away(row.run_out_on, today)


def order_words(row: PartOutlook) -> str:
    """What to order now, in pieces and in packs."""
    if row.suggested_order is None:
        return _("count it first")
    if not row.suggested_order:
        return _("nothing")
    pack = row.part.pack_size
    if pack <= 1:
        return number(row.suggested_order)
    packs = row.suggested_order // pack
    packed = ngettext("%(packs)s pack of %(size)s", "%(packs)s packs of %(size)s", packs) % {
        "packs": number(packs),
        "size": number(pack),
    }
    return _("%(pieces)s (%(packed)s)") % {"pieces": number(row.suggested_order), "packed": packed}


def method_words(row: PartOutlook) -> str:
    """What the forecast rests on, in a few words."""
    basis = row.explanation
    if row.method == DemandMethod.BASE:
        fitted = int(basis.get("positions") or 0)
        said = ngettext("from the age of %(n)s fitted", "from the ages of %(n)s fitted", fitted) % {
            "n": number(fitted)
        }
        if basis.get("evidence") == "mostly prior":
            return _("%(said)s, mostly prior") % {"said": said}
        return said
    if row.method == DemandMethod.HISTORY:
        return _("from use in the last %(weeks)s weeks") % {
            "weeks": number(float(basis.get("weeks") or 0))
        }
    return _("no use on record")
