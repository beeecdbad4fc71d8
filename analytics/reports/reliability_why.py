"""What stands behind a mean between failures: cycles, failures, formula."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from analytics.assessment.group_sums import GroupSum, LatestFailure
from analytics.datasets.clock import EPOCH_DATE
from analytics.kernel.mcbf import McbfEstimates
from analytics.reports.evidence import Evidence
from analytics.reports.reliability_scope import Scope
from fleetdoors.templatetags.units import day, number
from inspections.codes import FAILURE_MODES


@dataclass(frozen=True)
class Why:
    """What stands behind one group's figure."""

    sentence: str
    evidence: list[Evidence]
    formula: str
    headings: list[str]
    rows: list[list[str]]


def why_mcbf(scope: Scope, group: GroupSum, found: McbfEstimates, k: int) -> Why:
    """The figure of group `k` taken apart, with its latest failures."""
    return Why(
        sentence=_why_sentence(found, k, len(group.latest)),
        evidence=[
            Evidence(
                _("Cycles on record"),
                number(float(found.exposure_cycles[k])),
                _("of %(n)s doors, each from where its record begins to its last accepted reading")
                % {"n": number(group.doors)},
            ),
            Evidence(
                _("Failures"),
                number(int(found.failures[k])),
                _("every recorded failure, also two on one day"),
            ),
        ],
        formula=_formula(found, k),
        headings=[_("Found on"), _("Door"), _("At, cycles"), _("Component"), _("How it failed")],
        rows=[_failure_row(scope, each) for each in group.latest],
    )


def _why_sentence(found: McbfEstimates, k: int, shown: int) -> str:
    if found.bound[k] != "two-sided":
        return _REASONS[str(found.bound[k])]()
    return ngettext(
        "The latest failure is listed below. The figure is an average over the present ages: "
        "where parts wear out it moves as the fleet grows older.",
        "The latest %(n)d failures are listed below. The figure is an average over the present "
        "ages: where parts wear out it moves as the fleet grows older.",
        shown,
    ) % {"n": shown}


_REASONS = {
    "lower-only": lambda: _("No failure is recorded, so only a lower bound can be given."),
    "none": lambda: _("No cycles are recorded, so a mean between failures cannot be given."),
}


def _formula(found: McbfEstimates, k: int) -> str:
    ran, failed = number(float(found.exposure_cycles[k])), int(found.failures[k])
    tail = (1 - found.confidence) / 2
    if found.bound[k] == "none":
        return ""
    if failed == 0:
        return f"{ran} / −ln({1 - found.confidence:.2f}) = {number(float(found.lower_cycles[k]))}"
    return (
        f"{ran} / {failed} = {number(float(found.mcbf_cycles[k]))};  "
        f"2 × {ran} / χ²({1 - tail:.2f}; {2 * failed + 2}) = "
        f"{number(float(found.lower_cycles[k]))};  "
        f"2 × {ran} / χ²({tail:.2f}; {2 * failed}) = {number(float(found.upper_cycles[k]))}"
    )


def _failure_row(scope: Scope, failure: LatestFailure) -> list[str]:
    mode = FAILURE_MODES.get(failure.mode)
    return [
        day(EPOCH_DATE + timedelta(days=failure.day)),
        failure.door,
        number(failure.at_cycles),
        scope.component_name(failure.component_id),
        str(mode.name) if mode else _("not noted"),
    ]
