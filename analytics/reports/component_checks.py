"""How often a component has to be looked at for its defects to be found before they fail."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from analytics.assessment.checks import FEWEST_OF_EACH, tasks_looking_at
from analytics.kernel.delay_fit import interval_that_finds
from analytics.kernel.inspection_interval import (
    DelayTime,
    looks_needed,
    share_failing_before_look,
)
from analytics.models import CheckEvidence
from analytics.reports.evidence import Evidence
from fleetdoors.models import Component, MaintenanceTask
from fleetdoors.templatetags.units import between, cycles, number, per_cent

WANTED = (0.8, 0.9, 0.95)
LEADING = 0.9
# What one look may see of the defects that show, where it does not see all (an assumption).
SEEN_AT_ONE_LOOK = 0.8
# So many times as often as now nobody will look (rule of this program).
TOO_OFTEN = 10


@dataclass(frozen=True)
class ChecksShown:
    """The sentence, what it rests on, and the intervals by the share that is to be found."""

    sentence: str
    evidence: list[Evidence]
    headings: list[str]
    rows: list[list[str]]


def checks_shown(component: Component, kept: CheckEvidence | None) -> ChecksShown:
    """What checks found and what they should do; runs one query."""
    codes = tasks_looking_at(component.code)
    tasks = list(MaintenanceTask.objects.filter(code__in=codes).order_by("code"))
    if not tasks:
        return _only(_("No preventive task looks at it, so nothing can be found before it fails."))
    if kept is None or not kept.checks:
        return _only(_("Too little to say: no check of it is on record with a fault of its own."))
    evidence = _evidence(kept, tasks)
    delays = kept.figures.get("delay_cycles")
    if not delays:
        return ChecksShown(_too_little(kept), evidence, [], [])
    low, middle, high = (float(each) for each in delays)
    return ChecksShown(
        sentence=_sentence(kept, low, middle, high),
        evidence=[*evidence, *_delay_evidence(low, middle, high)],
        headings=[
            _("Found before it fails"),
            _("Look every, cycles"),
            _("Range, 9 times in 10"),
        ],
        rows=[
            [
                per_cent(share),
                _about(interval_that_finds(share, middle)),
                _range(interval_that_finds(share, low), interval_that_finds(share, high)),
            ]
            for share in WANTED
        ],
    )


def fetch_check_evidence(component: Component) -> CheckEvidence | None:
    """The row of the shown run, if the component has one; queries once."""
    return CheckEvidence.objects.current().filter(component=component).first()


def _only(sentence: str) -> ChecksShown:
    return ChecksShown(sentence, [], [], [])


def _too_little(kept: CheckEvidence) -> str:
    if kept.found == 0 and kept.failed >= FEWEST_OF_EACH:
        return _(
            "Too little to say how often to look: no check found it before it failed, and "
            "%(failed)s failed between checks. Either it gives no sign, or checks do not see it; "
            "as far as can be told, looking more often finds no more."
        ) % {"failed": number(kept.failed)}
    if kept.failed == 0 and kept.found >= FEWEST_OF_EACH:
        return _(
            "All %(found)s defects were found at a check before they failed. So looking every "
            "%(usual)s, as now, is often enough; whether less would do cannot be said."
        ) % {"found": number(kept.found), "usual": _every(kept)}
    return _(
        "Too little to say: %(found)s found at a check before it failed, %(failed)s failed "
        "between checks. It takes %(least)s of each."
    ) % {
        "found": number(kept.found),
        "failed": number(kept.failed),
        "least": number(FEWEST_OF_EACH),
    }


def _sentence(kept: CheckEvidence, low: float, middle: float, high: float) -> str:
    said = _(
        "To find %(share)s of its defects before they fail, look every %(every)s cycles "
        "(%(range)s, 9 times in 10)."
    ) % {
        "share": per_cent(LEADING),
        "every": _about(interval_that_finds(LEADING, middle)),
        "range": _range(interval_that_finds(LEADING, low), interval_that_finds(LEADING, high)),
    }
    if kept.usual_cycles is None:
        return said
    shares = [_found_at(kept.usual_cycles, delay) for delay in (low, middle, high)]
    said = _(
        "%(said)s Looked at every %(usual)s, as now, about %(now)s are (%(low)s to %(high)s)."
    ) % {
        "said": said,
        "usual": _every(kept),
        "now": per_cent(shares[1]),
        "low": per_cent(shares[0]),
        "high": per_cent(shares[2]),
    }
    if interval_that_finds(LEADING, middle) * TOO_OFTEN > kept.usual_cycles:
        return said
    return _(
        "%(said)s Nobody looks that often: it fails soon after it shows, or without a sign, and "
        "checks alone will not keep it from failing."
    ) % {"said": said}


def _found_at(interval: float, delay: float) -> float:
    failing = share_failing_before_look(interval, DelayTime(1.0, 1.0, delay))
    return 1 - float(np.asarray(failing))


def _evidence(kept: CheckEvidence, tasks: list[MaintenanceTask]) -> list[Evidence]:
    every = _("every %(usual)s or so") % {"usual": _every(kept)} if kept.usual_cycles else ""
    return [
        Evidence(_("Checks on record"), number(kept.checks), every),
        Evidence(
            _("Found before it failed"),
            number(kept.found),
            _("faults that were no failure yet, found by preventive work or at an inspection"),
        ),
        Evidence(
            _("Failed between checks"),
            number(kept.failed),
            _("on doors that had been checked before; failures without a sign count here too"),
        ),
        Evidence(_("Looked at by"), ", ".join(str(task) for task in tasks), ""),
    ]


def _delay_evidence(low: float, middle: float, high: float) -> list[Evidence]:
    looks = looks_needed(SEEN_AT_ONE_LOOK, LEADING)
    return [
        Evidence(
            _("From first sign to failure"),
            cycles(float(f"{middle:.3g}")),
            _("on average; %(range)s, 9 times in 10") % {"range": between(low, high)},
        ),
        Evidence(
            _("If a look sees only %(seen)s") % {"seen": per_cent(SEEN_AT_ONE_LOOK)},
            ngettext("%(n)s look", "%(n)s looks", looks) % {"n": number(looks)},
            _("are needed within that time to see %(wanted)s; the intervals take every sign to "
              "be seen") % {"wanted": per_cent(LEADING)},
        ),
    ]  # fmt: skip


def _every(kept: CheckEvidence) -> str:
    return cycles(float(f"{kept.usual_cycles or 0.0:.3g}"))


def _about(value: float) -> str:
    return number(float(f"{value:.2g}"))


def _range(low: float, high: float) -> str:
    return _("%(low)s to %(high)s") % {"low": _about(low), "high": _about(high)}
