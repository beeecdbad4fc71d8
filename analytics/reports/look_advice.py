"""How often a task that looks for defects is worth doing, at the costs that a person gives."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from django.utils.translation import gettext as _

from analytics.assessment.checks import FEWEST_OF_EACH, LOOKS_AT
from analytics.kernel.inspection_interval import (
    DelayTime,
    InspectionCosts,
    best_inspection_interval,
    inspection_cost_rate,
)
from analytics.models import CheckEvidence
from analytics.reports.evidence import Evidence
from fleetdoors.templatetags.units import between, cycles, number, per_cent

# Costs are told for so many cycles of one door.
PER_CYCLES = 10_000
# The middle of what is likely, and both ends: signs that show longer or shorter.
LOW, MIDDLE, HIGH = range(3)
# Below this, another interval is not worth the change (rule of this program).
WORTH_TELLING = 0.05


@dataclass(frozen=True)
class LookCosts:
    """What a person typed, in one currency; None = not said."""

    look: float | None
    defect: float | None
    failure: float | None


@dataclass(frozen=True)
class LookAdvice:
    """The sentence and what it rests on; `can_weigh` False where the record says too little."""

    sentence: str
    can_weigh: bool
    evidence: list[Evidence]


def look_advice(code: str, costs: LookCosts) -> LookAdvice | None:
    """Advice on the task's interval; None for a task that looks at nothing. Queries once."""
    seen = LOOKS_AT.get(code)
    if seen is None:
        return None
    rows = CheckEvidence.objects.current().filter(component__code__in=seen)
    kept = list(rows.select_related("component").order_by("component__code"))
    known = [row for row in kept if row.figures.get("defects_per_cycle")]
    if not known:
        return LookAdvice(_too_little(kept), can_weigh=False, evidence=[])
    said = _problem(costs)
    if said:
        return LookAdvice(said, can_weigh=True, evidence=_rests_on(known, kept))
    return _weighed(known, kept, costs)


def _too_little(kept: list[CheckEvidence]) -> str:
    if any(row.figures.get("delay_cycles") for row in kept):
        return _("What it costs to look can be weighed once the figures have been computed anew.")
    return _(
        "What it costs to look cannot be weighed yet: that takes %(least)s defects of one "
        "component found at checks, and %(least)s that failed between checks."
    ) % {"least": number(FEWEST_OF_EACH)}


def _problem(costs: LookCosts) -> str:
    """Why nothing can be weighed, or nothing."""
    given = (costs.look, costs.defect, costs.failure)
    if any(cost is None for cost in given):
        return _("Enter the three costs to see which interval costs least.")
    look, defect, failure = (cost or 0.0 for cost in given)
    if look <= 0 or defect <= 0 or failure <= 0:
        return _("A cost of nothing leaves nothing to weigh. Enter parts, labour and lost time.")
    if failure <= defect:
        return _(
            "A failure (%(failure)s) must cost more than a defect put right (%(defect)s), or there "
            "is no reason to look. Were the two swapped?"
        ) % {"failure": number(failure, 2), "defect": number(defect, 2)}
    return ""


def _weighed(known: list[CheckEvidence], kept: list[CheckEvidence], costs: LookCosts) -> LookAdvice:
    money = InspectionCosts(costs.look or 0.0, costs.defect or 0.0, costs.failure or 0.0)
    usual = float(np.median([row.usual_cycles for row in known if row.usual_cycles] or [np.nan]))
    best = [best_inspection_interval(_delays(known, end), money) for end in (LOW, MIDDLE, HIGH)]
    middle = best[MIDDLE]
    delays = _delays(known, MIDDLE)
    never = sum(delay.defects_per_cycle for delay in delays) * money.failure
    least = never if middle is None else _rate(middle, delays, money)
    now = _rate(usual, delays, money) if np.isfinite(usual) else None
    lines = [
        Evidence(
            _("Cost at that interval"),
            _money(least),
            _("for %(n)s cycles of one door: looks, defects put right, failures")
            % {"n": number(PER_CYCLES)},
        )
    ]
    if now is not None:
        every = _("done every %(usual)s or so") % {"usual": _about(usual)}
        lines.append(Evidence(_("Cost as it is done now"), _money(now), every))
    lines.append(
        Evidence(
            _("Cost if nobody looked"),
            _money(never),
            _("every defect fails; what the task does beside looking is not weighed"),
        )
    )
    return LookAdvice(
        _sentence(best, usual, 1 - least / now if now else None),
        can_weigh=True,
        evidence=[*lines, *_rests_on(known, kept)],
    )


def _sentence(best: list[float | None], usual: float, saving: float | None) -> str:
    middle = best[MIDDLE]
    if middle is None:
        return _(
            "At these costs looking never pays: letting defects fail costs less than finding them."
        )
    known = [each for each in best if each is not None]
    said = _("At these costs doing it every %(best)s costs least") % {"best": _about(middle)}
    if len(known) == len(best):
        said = _("%(said)s (%(range)s, as signs show shorter or longer).") % {
            "said": said,
            "range": between(_rounded(min(known)), _rounded(max(known))),
        }
    else:
        said = _("%(said)s; if signs show shorter than is likely, looking never pays.") % {
            "said": said
        }
    if saving is None:
        return said
    if saving < WORTH_TELLING:
        return _("%(said)s Every %(usual)s, as now, costs hardly more.") % {
            "said": said,
            "usual": _about(usual),
        }
    return _("%(said)s Against every %(usual)s, as now, that saves about %(saving)s.") % {
        "said": said,
        "usual": _about(usual),
        "saving": per_cent(saving),
    }


def _rests_on(known: list[CheckEvidence], kept: list[CheckEvidence]) -> list[Evidence]:
    """Each component with what its checks found, and how many could not be weighed."""
    lines = [
        Evidence(
            str(row.component),
            _("shows for %(delay)s") % {"delay": _about(row.figures["delay_cycles"][MIDDLE])},
            _("%(found)s found at checks, %(failed)s failed between them; a door has one every "
              "%(every)s or so") % {
                "found": number(row.found),
                "failed": number(row.failed),
                "every": _about(1 / row.figures["defects_per_cycle"][MIDDLE]),
            },
        )
        for row in known
    ]  # fmt: skip
    left_out = [str(row.component) for row in kept if row not in known]
    if left_out:
        note = _("fewer than %(least)s found, or fewer than %(least)s failed") % {
            "least": number(FEWEST_OF_EACH)
        }
        lines.append(Evidence(_("Not weighed"), ", ".join(left_out), note))
    return lines


def _delays(known: list[CheckEvidence], end: int) -> tuple[DelayTime, ...]:
    return tuple(
        DelayTime(row.figures["defects_per_cycle"][end], 1.0, row.figures["delay_cycles"][end])
        for row in known
    )


def _rate(interval: float, delays: tuple[DelayTime, ...], costs: InspectionCosts) -> float:
    return float(inspection_cost_rate(interval, delays, costs))


def _money(per_cycle: float) -> str:
    return number(float(f"{per_cycle * PER_CYCLES:.3g}"), 2)


def _about(value: float) -> str:
    return cycles(_rounded(value))


def _rounded(value: float) -> float:
    return float(f"{value:.2g}")
