"""What is suspected of a reading, in words, and what can be done about it."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _

from analytics.models import Cause, SuspectReading
from fleetdoors.templatetags.units import between, number, per_cent

ASK_A_PERSON = 3


@dataclass(frozen=True)
class Suspicion:
    """A suspect reading with its question in words."""

    suspect: SuspectReading
    question: str
    how_sure: str
    expected: str
    suggestion: str

    @property
    def may_be_exchange(self) -> bool:
        """Whether the counter may have been exchanged, which is recorded in its own place."""
        return self.suspect.cause == Cause.COUNTER_EXCHANGE


def suspicion(suspect: SuspectReading) -> Suspicion:
    """The suspicion in words."""
    sure = _("%(chance)s likely") % {"chance": per_cent(suspect.probability)}
    return Suspicion(
        suspect=suspect,
        question=question(suspect),
        how_sure="" if suspect.cause in (Cause.RULED, Cause.OK) else sure,
        expected=expected_words(suspect.expected_low, suspect.expected_high),
        suggestion=_suggestion(suspect),
    )


def question(suspect: SuspectReading) -> str:
    """What may have happened."""
    if suspect.cause == Cause.WRONG_TRUCK and suspect.other_door:
        return _("It fits door %(door)s: was it read on that truck?") % {"door": suspect.other_door}
    return {
        Cause.OK: _("Nothing is wrong with it."),
        Cause.ROLLOVER: _("The counter may have gone past its last digit."),
        Cause.COUNTER_EXCHANGE: _("Was the counter exchanged or set back?"),
        Cause.DIGITS_SWAPPED: _("Were two digits swapped?"),
        Cause.DIGIT_MISREAD: _("Was one digit misread?"),
        Cause.DIGITS_MISCOUNTED: _("Was one digit left out, or written twice?"),
        Cause.WRONG_TRUCK: _("Was it read on another truck?"),
        Cause.UNCHANGED: _("Does the counter stand still, or was the last value copied?"),
        Cause.UNEXPLAINED: _("It does not fit, and nothing explains it. Please look again."),
        Cause.RULED: _("Somebody decided to leave it out."),
    }[Cause(suspect.cause)]


def expected_words(low: float | None, high: float | None) -> str:
    """The range expected of the counter; one that goes past its last digit begins anew."""
    if low is None or high is None:
        return ""
    if low > high:
        return _("%(low)s, or past the last digit up to %(high)s") % {
            "low": number(low),
            "high": number(high),
        }
    return between(low, high)


def _suggestion(suspect: SuspectReading) -> str:
    if suspect.suggestion is None:
        return ""
    if suspect.suggestion_probability is None:
        return number(suspect.suggestion)
    return _("%(value)s (%(chance)s likely)") % {
        "value": number(suspect.suggestion),
        "chance": per_cent(suspect.suggestion_probability),
    }
