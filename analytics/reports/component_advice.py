"""Whether changing a component before it fails pays, and at which age."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _

from analytics.kernel.intervals import (
    ADVISED,
    LEAST_CHANCE,
    NO_BENEFIT,
    UNPROVEN,
    IntervalAdvice,
    advise_replacement_age,
    best_block_interval,
    minimal_repair_interval,
)
from analytics.reports.component_evidence import ComponentEvidence
from analytics.reports.evidence import Evidence
from analytics.reports.kernel_words import why_missing
from fleetdoors.templatetags.units import between, cycles, number, per_cent, times_in_ten

RATIOS = (2.0, 5.0, 10.0)


@dataclass(frozen=True)
class Costs:
    """What a planned change and a failure cost, in one currency; None = not said."""

    preventive: float | None
    failure: float | None


@dataclass(frozen=True)
class AdviceShown:
    """The verdict in words with its evidence; `problem` is a sentence in place of a number."""

    verdict: str
    sentence: str
    problem: str
    evidence: list[Evidence]
    formula: str
    headings: list[str]
    rows: list[list[str]]


def advice_shown(found: ComponentEvidence, costs: Costs) -> AdviceShown:
    """Advice for the costs given; without costs, what three ratios of them would make of it."""
    problem = _problem(found, costs)
    if problem:
        return AdviceShown("", "", problem, [], "", [], [])
    if costs.preventive is None or costs.failure is None:
        return _by_ratio(found)
    advice = advise_replacement_age(found.posterior(), costs.preventive, costs.failure)
    return AdviceShown(
        verdict=_VERDICTS[advice.verdict](),
        sentence=_sentence(found, advice),
        problem="",
        evidence=[*_evidence(advice), *_other_ways(found, costs.preventive, costs.failure)],
        formula=_(
            "cost per cycle = (planned × R(T) + failure × F(T)) / ∫ R from 0 to T, least at T"
        ),
        headings=[],
        rows=[],
    )


def _problem(found: ComponentEvidence, costs: Costs) -> str:
    """Why no advice can be given, or nothing."""
    if not found.is_estimated:
        return _("%(reason)s So a planned change cannot be weighed against failures yet.") % {
            "reason": why_missing(found.life.reason) or _("No failure is on record.")
        }
    preventive, failure = costs.preventive, costs.failure
    if preventive is None and failure is None:
        return ""
    if preventive is None or failure is None:
        return _("Enter both costs: a planned change is weighed against a failure.")
    if preventive <= 0 or failure <= 0:
        return _("A cost of nothing leaves nothing to weigh. Enter parts, labour and lost time.")
    if failure <= preventive:
        return _(
            "A failure (%(failure)s) must cost more than a planned change (%(planned)s), or there "
            "is no reason to plan. Were the two swapped?"
        ) % {"failure": number(failure, 2), "planned": number(preventive, 2)}
    return ""


_VERDICTS = {
    ADVISED: lambda: _("Advised"),
    UNPROVEN: lambda: _("Unproven"),
    NO_BENEFIT: lambda: _("No benefit"),
}


def _sentence(found: ComponentEvidence, advice: IntervalAdvice) -> str:
    failures = number(found.life.failures)
    said = {
        ADVISED: lambda: _advised(advice),
        UNPROVEN: lambda: _unproven(advice, failures),
        NO_BENEFIT: lambda: _no_benefit(advice),
    }[advice.verdict]()
    if found.is_mostly_prior:
        return _("%(said)s This is mostly prior: wait for more failures before acting on it.") % {
            "said": said
        }
    return said


def _advised(advice: IntervalAdvice) -> str:
    return _(
        "Change it at about %(age)s, if it has not failed before. That saves about %(saving)s of "
        "what running to failure costs."
    ) % {"age": cycles(advice.best_cycles), "saving": per_cent(advice.saving)}


def _unproven(advice: IntervalAdvice, failures: str) -> str:
    return _(
        "Changing it at about %(age)s might save %(saving)s, but the failures on record "
        "(%(failures)s) do not prove it. Collect more before planning it."
    ) % {
        "age": cycles(advice.best_cycles),
        "saving": per_cent(advice.saving),
        "failures": failures,
    }


def _no_benefit(advice: IntervalAdvice) -> str:
    if advice.shape_above_one < LEAST_CHANCE:
        return _(
            "Run it to failure: the chance that it wears out with use is only %(chance)s, and a "
            "part that fails by chance fails no less when it is new."
        ) % {"chance": per_cent(advice.shape_above_one)}
    return _("Run it to failure: no age of change costs less.")


def _evidence(advice: IntervalAdvice) -> list[Evidence]:
    lines = [
        Evidence(
            _("Chance that it wears out at all"),
            per_cent(advice.shape_above_one),
            _("a shape above 1; advice needs at least 80 %"),
        ),
        Evidence(
            _("Chance that this saves anything"),
            times_in_ten(advice.chance_of_saving),
            _("over 200 equally likely lives; advice needs at least 8 times in 10"),
        ),
        Evidence(
            _("Expected saving"),
            per_cent(max(advice.saving, 0.0)),
            _("against running to failure; advice needs at least 5 %"),
        ),
    ]
    if advice.best_cycles is None:
        return lines
    best = Evidence(
        _("Best age"),
        cycles(advice.best_cycles),
        _("%(range)s, 8 times in 10")
        % {"range": between(advice.lower_cycles, advice.upper_cycles)},
    )
    return [best, *lines]


def _other_ways(found: ComponentEvidence, planned: float, failure: float) -> list[Evidence]:
    """When to change or overhaul under two other rules, where the part wears out."""
    shape, scale = found.life.shape_median, found.life.scale_median
    if shape is None or scale is None or (found.life.shape_lower or 0.0) <= 1:
        return []
    block = best_block_interval(shape, scale, planned, failure).best_cycles
    overhaul = minimal_repair_interval(shape, scale, planned, failure)
    at_once = Evidence(
        _("All changed at once, whatever their age"),
        cycles(block),
        _("between changes; simpler to plan, and parts that are nearly new go too"),
    )
    mended = Evidence(
        _("If a failure is only mended"),
        cycles(overhaul),
        _("between changes, where mending leaves the part as old as it was"),
    )
    return [at_once, mended] if block is not None else [mended]


def _by_ratio(found: ComponentEvidence) -> AdviceShown:
    posterior = found.posterior()
    answers = [(ratio, advise_replacement_age(posterior, 1.0, ratio)) for ratio in RATIOS]
    return AdviceShown(
        verdict="",
        sentence=_(
            "It depends on how much more a failure costs than a planned change. Enter both costs "
            "for an answer of your own."
        ),
        problem="",
        evidence=[],
        formula="",
        headings=[
            _("A failure costs"),
            _("Verdict"),
            _("Change at about, cycles"),
            _("Saving"),
        ],
        rows=[
            [
                _("%(ratio)s times as much") % {"ratio": number(ratio)},
                _VERDICTS[advice.verdict](),
                number(advice.best_cycles),
                per_cent(advice.saving) if advice.best_cycles else "–",
            ]
            for ratio, advice in answers
        ],
    )
