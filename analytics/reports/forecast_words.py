"""Whether forecasts held what they said, in words."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _

from fleetdoors.templatetags.units import number, per_cent

# With fewer a share says next to nothing.
FEWEST_FORECASTS = 30
ABOUT_AS_NEAR = 0.05


@dataclass(frozen=True)
class Promise:
    """What a range is meant to hold, and between which shares it is said to hold that."""

    share: float
    lowest: float
    highest: float


DUE_DATES, DEMAND = Promise(0.80, 0.75, 0.86), Promise(0.90, 0.83, 0.96)


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


def sureness(held: Held, promise: Promise) -> str:
    """Whether the ranges were as sure as they said."""
    if held.forecasts < FEWEST_FORECASTS:
        return _("too few to say")
    if held.share < promise.lowest:
        return _("too sure: the ranges were too narrow")
    if held.share > promise.highest:
        return _("too cautious: the ranges were wider than need be")
    return _("as sure as it said")


def due_sentence(held: Held) -> str:
    """What became of forecast due dates."""
    return _(
        "Of %(count)s forecast due dates %(share)s were reached inside a range meant to hold "
        "%(promised)s: %(verdict)s. They were off by %(error)s days on average; the last two "
        "readings drawn on as a straight line, by %(naive)s."
    ) % _facts(held, DUE_DATES)


def demand_sentence(held: Held) -> str:
    """What became of forecast demand."""
    return _(
        "Of %(count)s forecasts of twelve weeks' use %(share)s came out inside a range meant to "
        "hold %(promised)s: %(verdict)s. They were off by %(error)s pieces on average; last "
        "year's use carried on, by %(naive)s."
    ) % _facts(held, DEMAND)


def nearness(held: Held) -> str:
    """Whether the forecasts came nearer than the naive method."""
    if held.naive_error <= 0:
        return _("both exact") if held.error <= 0 else _("further off than it")
    ratio = held.error / held.naive_error
    if ratio < 1 - ABOUT_AS_NEAR:
        return _("%(share)s nearer") % {"share": per_cent(1 - ratio)}
    return _("further off") if ratio > 1 + ABOUT_AS_NEAR else _("about as near")


def _facts(held: Held, promise: Promise) -> dict[str, str]:
    return {
        "count": number(held.forecasts),
        "share": per_cent(held.share),
        "promised": per_cent(promise.share),
        "verdict": sureness(held, promise),
        "error": number(held.mean_error, 1),
        "naive": number(held.mean_naive_error, 1),
    }
