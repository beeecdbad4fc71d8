"""Why a task is due when it is, in one sentence."""

from __future__ import annotations

from collections.abc import Mapping

from django.utils.translation import gettext as _

from analytics.models import DueState, GovernedBy
from fleetdoors.models import Duty, Setting

_CONDITION_WORDS = {**dict(Setting.choices), **dict(Duty.choices)}


def due_reason(
    *,
    governed_by: str,
    state: str,
    never_done: bool,
    has_interval: bool,
    factors: Mapping[str, float],
    beyond_horizon: bool,
) -> str:
    """What decides the date, what it counts from and what shortened the interval."""
    if not has_interval:
        return _("No interval is known for this task on this door.")
    if state == DueState.UNKNOWN:
        return _("No reading tells how far this door is.")
    sentences = [_GOVERNORS[governed_by]()]
    if never_done:
        sentences.append(_("Never done on record: counted from the beginning of the record."))
    if factors:
        sentences.append(
            _("Interval shortened by %(factors)s.") % {"factors": factor_words(factors)}
        )
    if beyond_horizon and governed_by == GovernedBy.CYCLES:
        sentences.append(_("More than 420 days ahead at present use, perhaps."))
    return " ".join(sentences)


def factor_words(factors: Mapping[str, float]) -> str:
    """The factors with their names: "road salt × 0.5, dust × 0.8"."""
    return ", ".join(
        f"{_CONDITION_WORDS.get(word, word)} × {factor:g}" for word, factor in factors.items()
    )


_GOVERNORS = {
    GovernedBy.CYCLES.value: lambda: _("The cycles of the interval are reached first."),
    GovernedBy.DAYS.value: lambda: _("The days of the interval are over first."),
    GovernedBy.CONDITION.value: lambda: _("A finding asks for it."),
    GovernedBy.NONE.value: lambda: _("Nothing says when it is due."),
}
