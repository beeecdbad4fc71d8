"""Whether forecasts held what they said, in words."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from math import sqrt

from django.utils.translation import gettext as _t
from django.utils.translation import gettext_lazy as _

from fleetdoors.templatetags.units import number, per_cent

# With fewer a share says next to nothing.
FEWEST_FORECASTS = 30
ABOUT_AS_NEAR = 0.05


@dataclass(frozen=True)
class Promise:
    """What a range is meant to hold, and between which shares it is said to hold that.

    `alike`: how many forecasts rest on the same readings or weeks, and so count as one.
    """

    share: float
    lowest: float
    highest: float
    alike: float

    def tolerance(self, forecasts: int) -> float:
        """Twice the spread that chance alone gives to the share of so many forecasts."""
        return 2 * sqrt(self.share * (1 - self.share) * self.alike / forecasts)


# Several tasks of a door rest on one reading; twelve weeks from dates four weeks apart overlap
# threefold (rules of this program).
DUE_DATES, DEMAND = Promise(0.80, 0.75, 0.86, 6.0), Promise(0.90, 0.83, 0.96, 3.0)


@dataclass(frozen=True)
class Held:
    """Forecasts added up: how many, how many inside their range, sums of errors."""

    forecasts: int
    inside: int
    error: float
    naive_error: float

    @property
    def share(self) -> float:
        """Share inside the range."""
        return self.inside / self.forecasts

    @property
    def mean_error(self) -> float:
        """Mean distance of what was said from what happened."""
        return self.error / self.forecasts

    @property
    def mean_naive_error(self) -> float:
        """The same of the naive method."""
        return self.naive_error / self.forecasts

    def together_with(self, other: Held) -> Held:
        """Both added up."""
        return Held(
            self.forecasts + other.forecasts,
            self.inside + other.inside,
            self.error + other.error,
            self.naive_error + other.naive_error,
        )


def added_up(every: list[Held]) -> Held:
    """All of them together."""
    total = Held(0, 0, 0.0, 0.0)
    for each in every:
        total = total.together_with(each)
    return total


class Sureness(Enum):
    """How the share inside compares with what was promised."""

    TOO_FEW = 0
    TOO_SURE = 1
    AS_SAID = 2
    TOO_CAUTIOUS = 3


def sureness(held: Held, promise: Promise) -> Sureness:
    """Whether the ranges were as sure as they said, beyond what chance may do."""
    if held.forecasts < FEWEST_FORECASTS:
        return Sureness.TOO_FEW
    chance = promise.tolerance(held.forecasts)
    if held.share < min(promise.lowest, promise.share - chance):
        return Sureness.TOO_SURE
    if held.share > max(promise.highest, promise.share + chance):
        return Sureness.TOO_CAUTIOUS
    return Sureness.AS_SAID


# In a table, and within a sentence.
RANGES = {
    Sureness.TOO_FEW: _("too few to say"),
    Sureness.TOO_SURE: _("too narrow"),
    Sureness.AS_SAID: _("as meant"),
    Sureness.TOO_CAUTIOUS: _("too wide"),
}
VERDICTS = {
    Sureness.TOO_FEW: _("too few to say more"),
    Sureness.TOO_SURE: _("the program was too sure, its ranges too narrow"),
    Sureness.AS_SAID: _("the program was as sure as it said"),
    Sureness.TOO_CAUTIOUS: _("the program was too cautious, its ranges wider than need be"),
}


def due_sentence(held: Held) -> str:
    """What became of forecast due dates."""
    return _t(
        "Of %(count)s forecast due dates %(share)s were reached inside a range meant to hold "
        "%(promised)s: %(verdict)s. They were off by %(error)s days on average; the last two "
        "readings drawn on as a straight line, by %(naive)s."
    ) % _facts(held, DUE_DATES)


def demand_sentence(held: Held) -> str:
    """What became of forecast demand."""
    return _t(
        "Of %(count)s forecasts of twelve weeks' use %(share)s came out inside a range meant to "
        "hold %(promised)s: %(verdict)s. They were off by %(error)s pieces on average; last "
        "year's use carried on, by %(naive)s."
    ) % _facts(held, DEMAND)


NAMED_AT_MOST = 5


def standing_sentence(kinds: list[tuple[str, Sureness]]) -> str:
    """How many of some depots or parts had ranges as meant, and which had not."""
    judged = [kind for _label, kind in kinds if kind is not Sureness.TOO_FEW]
    if not judged:
        return _t("None has forecasts enough to be judged: it takes %(least)s.") % {
            "least": number(FEWEST_FORECASTS)
        }
    said = [
        _t("Ranges held as meant for %(good)s of %(all)s.")
        % {"good": number(judged.count(Sureness.AS_SAID)), "all": number(len(judged))},
        _named(kinds, Sureness.TOO_SURE, _t("Too narrow, so be on the safe side: %(names)s.")),
        _named(kinds, Sureness.TOO_CAUTIOUS, _t("Wider than need be: %(names)s.")),
        _named(kinds, Sureness.TOO_FEW, _t("Too few to say: %(names)s.")),
    ]
    return " ".join(each for each in said if each)


def _named(kinds: list[tuple[str, Sureness]], kind: Sureness, words: str) -> str:
    """The words with the first names of a kind, or nothing."""
    labels = [label for label, own in kinds if own is kind]
    if not labels:
        return ""
    names, more = ", ".join(labels[:NAMED_AT_MOST]), len(labels) - NAMED_AT_MOST
    if more > 0:
        names = _t("%(names)s and %(more)s more") % {"names": names, "more": number(more)}
    return words % {"names": names}


def nearness(held: Held) -> str:
    """Whether the forecasts came nearer than the naive method."""
    if held.naive_error <= 0:
        return _t("both exact") if held.error <= 0 else _t("further off than it")
    ratio = held.error / held.naive_error
    if ratio < 1 - ABOUT_AS_NEAR:
        return _t("%(share)s nearer") % {"share": per_cent(1 - ratio)}
    return _t("further off") if ratio > 1 + ABOUT_AS_NEAR else _t("about as near")


def _facts(held: Held, promise: Promise) -> dict[str, str]:
    return {
        "count": number(held.forecasts),
        "share": per_cent(held.share),
        "promised": per_cent(promise.share),
        "verdict": str(VERDICTS[sureness(held, promise)]),
        "error": number(held.mean_error, 1),
        "naive": number(held.mean_naive_error, 1),
    }
