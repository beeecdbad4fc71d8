"""How long records are kept, by the rule set a fleet chose; never shorter than the rule.

Periods are those of 49 CFR 396.3(c), 396.11, 396.21 (United States) and of the guide to
maintaining roadworthiness (Great Britain), recalled and to be checked against the law in force.
The program counts; it does not say that a record meets a rule.
"""

from __future__ import annotations

from calendar import monthrange
from dataclasses import dataclass
from datetime import date

from django.db import models
from django.utils.translation import gettext_lazy as _


class RuleSet(models.TextChoices):
    """Whose minimum periods are held to."""

    US = "us", _("United States, 49 CFR 396")
    GB = "gb", _("Great Britain, 15 months")
    NONE = "none", _("no law: the shipped periods alone")


class RecordClass(models.TextChoices):
    """Records that have a period of their own."""

    WORK = "work", _("inspection, repair and maintenance of a door")
    DEFECT = "defect", _("driver's report with its sign-off")
    PERIODIC = "periodic", _("periodic inspection")
    READING = "reading", _("counter readings and corrections")


@dataclass(frozen=True)
class Period:
    """Months from the record's own date, and months from the day the truck left the fleet."""

    from_record: int
    from_leaving: int


LAW: dict[str, dict[str, Period]] = {
    RuleSet.US: {
        RecordClass.WORK: Period(12, 6),
        RecordClass.DEFECT: Period(3, 0),
        RecordClass.PERIODIC: Period(14, 0),
        RecordClass.READING: Period(0, 0),
    },
    RuleSet.GB: dict.fromkeys(RecordClass, Period(15, 0)),
    RuleSet.NONE: dict.fromkeys(RecordClass, Period(0, 0)),
}
# What is shipped beside the law: lives are learned from the whole history. Our own figures.
SHIPPED: dict[str, Period] = {
    RecordClass.WORK: Period(0, 24),
    RecordClass.DEFECT: Period(15, 0),
    RecordClass.PERIODIC: Period(24, 0),
    RecordClass.READING: Period(0, 24),
}


class StillInTheFleetError(ValueError):
    """The truck is in the fleet: the clock of its records has not begun."""


def keep_until(
    rule_set: str,
    record_class: str,
    *,
    recorded_on: date,
    left_on: date | None,
    with_shipped: bool = True,
) -> date:
    """The first day on which the record may go: the latest that any period asks for.

    Raises StillInTheFleetError for a truck that has not left.
    """
    if left_on is None:
        raise StillInTheFleetError("A record is kept as long as its truck is in the fleet.")
    periods = [LAW[rule_set][record_class]]
    if with_shipped:
        periods.append(SHIPPED[record_class])
    days = [left_on]
    for period in periods:
        days.append(months_after(recorded_on, period.from_record))
        days.append(months_after(left_on, period.from_leaving))
    return max(days)


def months_after(day: date, months: int) -> date:
    """The same day so many months later, or the last of that month where it has no such day."""
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    return date(year, month + 1, min(day.day, monthrange(year, month + 1)[1]))
