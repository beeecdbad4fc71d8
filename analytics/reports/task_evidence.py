"""What this fleet's record says of a task's interval: defects found at checks, lives, lateness."""

from __future__ import annotations

from dataclasses import dataclass

from django.urls import reverse
from django.utils.translation import gettext as _
from scipy.stats import beta

from analytics.assessment.checks import LOOKS_AT
from analytics.models import CheckEvidence, ComponentLife
from fleetdoors.templatetags.units import between, cycles, number, per_cent

# With fewer, a share says less than the count (rule of this program).
FEWEST = 5
MANY_FOUND, FEW_FOUND = 0.10, 0.005
_LOW, _HIGH = 0.05, 0.95


@dataclass(frozen=True)
class Line:
    """What is known of one component that the task looks at."""

    label: str
    url: str
    checks: str
    life: str


@dataclass(frozen=True)
class TaskEvidence:
    """In short for the list; line by line, with what may be made of it, for the task's page."""

    short: str
    verdict: str
    lines: tuple[Line, ...]


def evidence_by_task() -> dict[str, TaskEvidence]:
    """By code, of tasks that look at components; runs two queries."""
    checks = {
        row.component.code: row
        for row in CheckEvidence.objects.current().select_related("component")
    }
    lives = {
        row.component.code: row
        for row in ComponentLife.objects.current().select_related("component")
    }
    return {
        task: _evidence([(code, checks.get(code), lives.get(code)) for code in seen])
        for task, seen in LOOKS_AT.items()
    }


Seen = tuple[str, CheckEvidence | None, ComponentLife | None]


def _evidence(seen: list[Seen]) -> TaskEvidence:
    known = [checks for _code, checks, _life in seen if checks is not None]
    found, checked = (
        sum(each.found for each in known),
        max((each.checks for each in known), default=0),
    )
    failed = sum(each.failed for each in known)
    return TaskEvidence(
        short=found_words(found, checked),
        verdict=_verdict(found, checked, failed),
        lines=tuple(_line(*each) for each in seen if each[1] is not None or each[2] is not None),
    )


def found_words(found: int, checks: int) -> str:
    """Defects found per check with their n; too few are told as a count."""
    if not checks:
        return _("no check on record")
    said = {"found": number(found), "n": number(checks)}
    if found < FEWEST:
        return _("%(found)s in %(n)s checks") % said
    low, high = share_range(found, checks)
    return _("%(found)s in %(n)s checks, %(share)s (%(range)s %%)") % {
        **said,
        "share": per_cent(found / checks, 1),
        "range": between(100 * low, 100 * high, 1),
    }


def share_range(found: int, checks: int) -> tuple[float, float]:
    """The 90 % range of a share by Clopper and Pearson, which holds at least what it says."""
    found = min(found, checks)
    low = float(beta.ppf(_LOW, found, checks - found + 1)) if found else 0.0
    high = float(beta.ppf(_HIGH, found + 1, checks - found)) if found < checks else 1.0
    return low, high


def _verdict(found: int, checks: int, failed: int) -> str:
    """What the counts say of the interval, where they say anything."""
    if not checks:
        return _("No check of what it looks at is on record, so nothing speaks for a change.")
    low, high = share_range(found, checks)
    missed = _("%(failed)s failed between checks.") % {"failed": number(failed)}
    if low > MANY_FOUND:
        return _("Checks find much: the interval may be too long. %(missed)s") % {"missed": missed}
    if high < FEW_FOUND and not failed:
        return _("Checks find hardly anything and nothing failed: the interval may be too short.")
    return _("The counts do not prove the interval wrong. %(missed)s") % {"missed": missed}


def _line(code: str, checks: CheckEvidence | None, life: ComponentLife | None) -> Line:
    component = (checks or life).component  # type: ignore[union-attr]
    return Line(
        label=str(component),
        url=reverse("component-detail", args=[code]),
        checks=_checks_words(checks),
        life=_life_words(life),
    )


def _checks_words(checks: CheckEvidence | None) -> str:
    if checks is None:
        return _("no check and no failure on record")
    said = _("%(found)s; %(failed)s failed between checks") % {
        "found": found_words(checks.found, checks.checks),
        "failed": number(checks.failed),
    }
    if checks.usual_cycles is None:
        return said
    return _("%(said)s, usually %(cycles)s apart") % {
        "said": said,
        "cycles": cycles(checks.usual_cycles),
    }


def _life_words(life: ComponentLife | None) -> str:
    """The age by which one in ten has failed: common practice renews at its lower end."""
    if life is None or life.b10_median is None:
        return _("life not known")
    said = _("1 in 10 has failed by %(age)s (%(range)s, 9 times in 10)") % {
        "age": cycles(life.b10_median),
        "range": between(life.b10_lower, life.b10_upper),
    }
    return said if life.evidence == "data" else _("%(said)s; mostly prior") % {"said": said}
