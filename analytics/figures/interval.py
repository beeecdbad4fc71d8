"""Whether replacing before failure pays, and at which age."""

from __future__ import annotations

from analytics.assessment.lives import assess_component
from analytics.figures.options import WrongUsageError
from analytics.figures.record import Record
from analytics.figures.words import Row
from analytics.kernel.intervals import advise_replacement_age

KEYS = ("component", "best_cycles", "lower", "upper", "saving", "verdict", "reason")
TAKES = ("component", "cost_preventive", "cost_failure", "as_of")


def rows(record: Record) -> list[Row]:
    """One row: the advice for the component asked for."""
    question, components = record.question, record.fleet.components
    preventive, failure = question.cost_preventive, question.cost_failure
    if record.component_id is None or preventive is None or failure is None:
        raise WrongUsageError("interval needs --component, --cost-preventive and --cost-failure.")
    if preventive >= failure:
        raise WrongUsageError(
            f"--cost-failure must be more than --cost-preventive; got {failure:g} and "
            f"{preventive:g}."
        )
    code = str(question.component)
    kind = components.kinds[components.codes.index(code)]
    lives = record.lives.of_component(record.component_id)
    found = assess_component(code, kind, record.component_id, lives, question.confidence)
    if found.posterior is None:
        return [{"component": code, **dict.fromkeys(KEYS[1:5]), "verdict": "unproven",
                 "reason": found.reason}]  # fmt: skip
    advice = advise_replacement_age(found.posterior, preventive, failure)
    return [
        {
            "component": code,
            "best_cycles": advice.best_cycles,
            "lower": advice.lower_cycles,
            "upper": advice.upper_cycles,
            "saving": advice.saving,
            "verdict": advice.verdict,
            "reason": advice.reason,
        }
    ]
