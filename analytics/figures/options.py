"""What the figures may be asked, and clear words for what they may not."""

from __future__ import annotations

from argparse import ArgumentParser
from dataclasses import dataclass
from datetime import date, datetime

from django.core.management.base import CommandError

from analytics.assessment.groups import FLEET, GROUPINGS
from analytics.datasets.clock import AsOf
from fleetdoors.models import Component, Depot, DoorUnit, MaintenanceTask, Part


class WrongUsageError(CommandError):
    """An option that cannot be what was meant: exit status 2."""

    def __init__(self, message: str) -> None:
        super().__init__(message, returncode=2)


@dataclass(frozen=True)
class Question:
    """The options of one call, checked; codes are known to exist."""

    as_of: AsOf
    by: str
    component: str | None
    confidence: float
    since: date | None
    depot: str | None
    door: str | None
    task: str | None
    part: str | None
    within_days: float | None
    horizon_days: float
    days: int
    cost_preventive: float | None
    cost_failure: float | None


FLAGS: dict[str, dict[str, object]] = {
    "--as-of": {"metavar": "DATE", "help": "as it was known at the start of that day"},
    "--by": {"default": FLEET, "help": f"one of {', '.join(GROUPINGS)} (default {FLEET})"},
    "--component": {"metavar": "CODE", "help": "one component, such as converter"},
    "--confidence": {"default": "0.9", "help": "between 0.5 and 0.999 (default 0.9)"},
    "--since": {"metavar": "DATE", "help": "count cycles and failures from that day on"},
    "--depot": {"metavar": "CODE", "help": "one depot"},
    "--door": {"metavar": "SERIAL", "help": "one door"},
    "--task": {"metavar": "CODE", "help": "one preventive task, such as LUB"},
    "--part": {"metavar": "NUMBER", "help": "one part"},
    "--within": {"metavar": "DAYS", "help": "only what is due within so many days"},
    "--horizon": {"metavar": "DAYS", "default": "90", "help": "days ahead (default 90)"},
    "--days": {"metavar": "DAYS", "default": "7", "help": "nights to plan (default 7)"},
    "--cost-preventive": {"metavar": "MONEY", "help": "cost of a planned replacement"},
    "--cost-failure": {"metavar": "MONEY", "help": "cost of a failure, time off road included"},
}


def add_flags(parser: ArgumentParser) -> None:
    """Every option; which of them a figure takes is checked when it is asked."""
    for flag, settings in FLAGS.items():
        parser.add_argument(flag, **settings)  # type: ignore[arg-type]


def read_question(given: dict[str, str | None], takes: tuple[str, ...], now: datetime) -> Question:
    """Check the options of one call against what the figure takes."""
    defaults = {name(flag): settings.get("default") for flag, settings in FLAGS.items()}
    for option, value in given.items():
        if option not in takes and value != defaults[option]:
            raise WrongUsageError(
                f"This figure does not take --{option.replace('_', '-')}; it takes "
                f"{', '.join('--' + each.replace('_', '-') for each in takes)}."
            )
    as_of = given["as_of"]
    return Question(
        as_of=now if as_of is None else read_date("--as-of", as_of),
        by=_one_of("--by", str(given["by"]), GROUPINGS),
        component=_known("--component", given["component"], Component, "code"),
        confidence=_number("--confidence", str(given["confidence"]), 0.5, 0.999),
        since=None if given["since"] is None else read_date("--since", str(given["since"])),
        depot=_known("--depot", given["depot"], Depot, "code"),
        door=_known("--door", given["door"], DoorUnit, "serial"),
        task=_known("--task", given["task"], MaintenanceTask, "code"),
        part=_known("--part", given["part"], Part, "part_number"),
        within_days=_number_or_none("--within", given["within"], 0, 3_650),
        horizon_days=_number("--horizon", str(given["horizon"]), 1, 730),
        days=_whole_number("--days", str(given["days"]), 1, 90),
        cost_preventive=_number_or_none("--cost-preventive", given["cost_preventive"], 0.01, 1e9),
        cost_failure=_number_or_none("--cost-failure", given["cost_failure"], 0.01, 1e9),
    )


def name(flag: str) -> str:
    """An option's name among the arguments."""
    return flag.removeprefix("--").replace("-", "_")


def read_date(flag: str, value: str) -> date:
    """A day written YYYY-MM-DD."""
    try:
        return date.fromisoformat(value)
    except ValueError as error:
        raise WrongUsageError(f"{flag} must be a day written YYYY-MM-DD; got {value!r}.") from error


def _one_of(flag: str, value: str, known: tuple[str, ...]) -> str:
    if value not in known:
        raise WrongUsageError(f"{flag} must be one of {', '.join(known)}; got {value!r}.")
    return value


def _known(flag: str, value: str | None, model: type, field: str) -> str | None:
    """A code that is on record; the refusal lists the known ones."""
    if value is None or model.objects.filter(**{field: value}).exists():  # type: ignore[attr-defined]
        return value
    codes = list(model.objects.order_by(field).values_list(field, flat=True)[:61])  # type: ignore[attr-defined]
    shown = ", ".join(codes[:60]) + (" ..." if len(codes) > 60 else "")
    raise WrongUsageError(f"{flag} must be one of {shown or '(none on record)'}; got {value!r}.")


def _number_or_none(flag: str, value: str | None, lowest: float, highest: float) -> float | None:
    return None if value is None else _number(flag, value, lowest, highest)


def _number(flag: str, value: str, lowest: float, highest: float) -> float:
    try:
        number = float(value)
    except ValueError:
        number = float("nan")
    if not lowest <= number <= highest:
        raise WrongUsageError(
            f"{flag} must be a number from {lowest:g} to {highest:g}; got {value!r}."
        )
    return number


def _whole_number(flag: str, value: str, lowest: int, highest: int) -> int:
    if not value.isascii() or not value.isdigit() or not lowest <= int(value) <= highest:
        raise WrongUsageError(
            f"{flag} must be a whole number from {lowest} to {highest}; got {value!r}."
        )
    return int(value)
