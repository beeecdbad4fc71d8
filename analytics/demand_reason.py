"""Why so many of a part will be needed, in one sentence or two."""

from __future__ import annotations

from collections.abc import Mapping

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from analytics.models import DemandMethod

Basis = Mapping[str, float | str | None]


def demand_reason(
    *, method: str, basis: Basis, on_hand: int | None, suggested_order: int | None
) -> str:
    """What the forecast rests on, and what the order does."""
    sentences = (_METHODS[method](basis), _announced(basis), _order(on_hand, suggested_order))
    return " ".join(each for each in sentences if each)


def announced_pieces(basis: Basis) -> float | None:
    """Of the expected pieces, those of announced changes; None where nothing concerns the part."""
    kinds = [value for name, value in basis.items() if name.startswith("announced_")]
    return sum(float(value or 0) for value in kinds) if kinds else None


def _announced(basis: Basis) -> str:
    pieces = announced_pieces(basis)
    if pieces is None:
        return ""
    return _("Of this, %(pieces).1f from announced changes.") % {"pieces": pieces}


def _from_base(basis: Basis) -> str:
    sentence = _(
        "%(positions)d fitted, %(unknown)d of unknown age, at %(rate).0f cycles a day; life from "
        "%(failures)d failures (shape %(shape).2f, scale %(scale).0f cycles); %(checked)s."
    ) % {
        "positions": basis["positions"],
        "unknown": basis["unknown_ages"],
        "rate": basis["cycles_per_day"],
        "failures": basis["failures"],
        "shape": basis["shape"],
        "scale": basis["scale_cycles"],
        "checked": factor_words(basis),
    }
    sentence += _of_revision(basis) + _of_season(basis)
    if basis.get("batches"):
        count = round(float(basis["batches"] or 0))
        sentence += " " + ngettext(
            "In %(count)d week one cause took about %(pieces).0f at once; such weeks are foreseen "
            "apart.",
            "In %(count)d weeks one cause took about %(pieces).0f at once; such weeks are foreseen "
            "apart.",
            count,
        ) % {"count": count, "pieces": basis["batch_pieces"]}
    if basis["planned_at_cycles"]:
        sentence += " " + _("Changed by plan at about %(cycles).0f cycles.") % {
            "cycles": basis["planned_at_cycles"]
        }
    if basis["taken_along"]:
        sentence += " " + _("%(count)d more in %(weeks)d weeks came off for another reason.") % {
            "count": basis["taken_along"],
            "weeks": basis["weeks"],
        }
    return sentence


def _of_revision(basis: Basis) -> str:
    """The later revision's own life, where some of it are fitted."""
    if not basis.get("revised"):
        return ""
    return " " + _(
        "%(count)d of them are of a later revision, whose life is told apart (scale "
        "%(scale).0f cycles, from %(failures)d failures)."
    ) % {
        "count": basis["revised"],
        "scale": basis["revised_scale_cycles"],
        "failures": basis["revised_failures"],
    }


def _of_season(basis: Basis) -> str:
    """What the months ahead do, or that no season is known; nothing in rows of before."""
    if "season" not in basis:
        return ""
    season = basis["season"]
    if season is None:
        return " " + _("All months are taken alike: 24 months of readings would show a season.")
    return " " + _("The next 90 days count as %(days).0f ordinary ones, by their months.") % {
        "days": 90 * float(season)
    }


def factor_words(basis: Basis) -> str:
    """How often parts fail against what their age says, or that nobody has looked yet."""
    factor = basis.get("factor")
    if factor is None:
        return _("not yet checked against past weeks")
    return _("parts fail %(factor).2f times as often as their age says (%(weeks)d weeks)") % {
        "factor": factor,
        "weeks": basis["factor_weeks"],
    }


def _from_history(basis: Basis) -> str:
    return _("%(used)d used in the last %(weeks)d weeks; no life is known well enough.") % {
        "used": basis["used"],
        "weeks": basis["weeks"],
    }


def _from_nothing(basis: Basis) -> str:
    return _("None used in the last %(weeks)d weeks.") % {"weeks": basis["weeks"]}


def _order(on_hand: int | None, suggested_order: int | None) -> str:
    if on_hand is None:
        return _("Never counted here, so no order can be suggested: count the shelf first.")
    if suggested_order:
        return _("The stock is at or below the reorder point.")
    return _("The stock is above the reorder point.")


_METHODS = {
    DemandMethod.BASE.value: _from_base,
    DemandMethod.HISTORY.value: _from_history,
    DemandMethod.NONE.value: _from_nothing,
}
