"""Who changed what: corrections, rulings and decisions of every kind, in one listing."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.contrib.admin.models import LogEntry
from django.db.models import CharField, F, Model, Q, QuerySet, Value
from django.utils.functional import Promise
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import MachineToken, TaskChange, User
from inspections.kept_words import as_read
from inspections.models import (
    AnnouncedChange,
    CauseShare,
    CounterReading,
    Fault,
    LabourRate,
    LettingGo,
    Measurement,
    OneOffLook,
    OrderStep,
    OutsideInvoice,
    PartTakenBack,
    PartUsed,
    PlanAcceptance,
    Repair,
    RoadHold,
    StockCount,
    TaskDone,
    VisitMinutes,
)

CORRECTED = (
    CounterReading, Fault, TaskDone, Measurement, PartUsed, Repair, StockCount, CauseShare,
    OneOffLook, VisitMinutes, LabourRate, OutsideInvoice,
)  # fmt: skip
Row = Any
ALL = Q()


@dataclass(frozen=True)
class Words:
    """What a change was about: what stood before and after, and why."""

    about: str
    before: str = ""
    after: str = ""
    why: str = ""


@dataclass(frozen=True)
class Kind:
    """One kind of change: the rows that tell of it, and how they tell it."""

    model: type[Model]
    label: str | Promise
    at: str
    by: str
    words: Callable[[Row], Words]
    only: Q = ALL
    links: tuple[str, ...] = ()


@dataclass(frozen=True)
class Change:
    """A line of the listing."""

    at: datetime
    by: User | None
    label: str | Promise
    words: Words


def _correction(row: Row) -> Words:
    ruling = _now("held") if getattr(row, "ruling", "") == "held" else ""
    return Words(about="", before=str(row.corrects), after=f"{row} {ruling}", why=row.reason)


def _catalogue(row: TaskChange) -> Words:
    before, after = row.before or {}, row.after
    touched = [key for key in after if before.get(key) != after[key]] if before else []
    return Words(
        about=str(row.task),
        before="; ".join(f"{key}: {before.get(key)}" for key in touched),
        after="; ".join(f"{key}: {after[key]}" for key in touched) or _now("new task"),
        why=row.reason,
    )


def _order_step(row: OrderStep) -> Words:
    day = f" {row.day}" if row.day else ""
    pieces = f" · {row.pieces}" if row.pieces else ""
    return Words(f"{row.order}", after=f"{row.get_kind_display()}{day}{pieces}", why=row.note)


def _part_back(row: PartTakenBack) -> Words:
    """What was taken back, and the part whose life goes on instead."""
    goes_on = row.restored
    after = f"{goes_on} {goes_on.part or ''}".strip() if goes_on else ""
    part = f" {row.fitment.part}" if row.fitment and row.fitment.part else ""
    return Words(str(row.door), before=f"{row}{part}", after=after, why=row.reason)


def _hold_lifted(row: RoadHold) -> Words:
    signed = f"{row.signed_by}, {row.signed_role}".strip(", ")
    return Words(str(row), before=as_read(row.detail), after=row.what_was_done, why=signed)


def _kinds() -> dict[str, Kind]:
    corrections = {
        f"correction of {model.__name__}": Kind(
            model=model,
            label=model._meta.verbose_name or "",
            at="entered_at",
            by="entered_by",
            words=_correction,
            only=Q(corrects__isnull=False),
            links=_paths(model),
        )
        for model in CORRECTED
    }
    return corrections | _DECISIONS


def _paths(model: type[Model]) -> tuple[str, ...]:
    """What the words of a record and of the one it corrects are read from."""
    shown = (
        "door",
        "task",
        "part",
        "depot",
        "component",
        "fault",
        "fault__door",
        "check_asked",
        "visit",
        "visit__truck",
        "visit__door",
    )
    names = {field.name for field in model._meta.get_fields()}
    own = [path for path in shown if path.partition("__")[0] in names]
    return ("corrects", *own, *(f"corrects__{path}" for path in own))


_DECISIONS = {
    "admin": Kind(
        LogEntry, _("registry, by hand"), "action_time", "user",
        lambda row: Words(row.object_repr, after=row.get_change_message()),
        links=("content_type",),
    ),
    "task": Kind(TaskChange, _("catalogue of tasks"), "changed_at", "changed_by", _catalogue,
                 links=("task",)),
    "token": Kind(
        MachineToken, _("token issued"), "issued_at", "issued_by", lambda row: Words(str(row)),
    ),
    "token back": Kind(
        MachineToken, _("token taken back"), "revoked_at", "revoked_by",
        lambda row: Words(str(row)), only=Q(revoked_at__isnull=False),
    ),
    "hold": Kind(
        RoadHold, _("road hold placed"), "entered_at", "placed_by",
        lambda row: Words(str(row), after=as_read(row.detail)), links=("truck", "door"),
    ),
    "hold lifted": Kind(
        RoadHold, _("road hold lifted"), "lifted_at", "lifted_by", _hold_lifted,
        only=Q(lifted_at__isnull=False), links=("truck", "door"),
    ),
    "part back": Kind(
        PartTakenBack, _("part taken back"), "entered_at", "entered_by", _part_back,
        links=("door", "fitment__door", "fitment__component", "fitment__part", "used__door",
               "used__part", "restored__door", "restored__component", "restored__part"),
    ),
    "plan": Kind(
        PlanAcceptance, _("plan accepted"), "accepted_at", "accepted_by",
        lambda row: Words(str(row)), links=("depot",),
    ),
    "plan back": Kind(
        PlanAcceptance, _("plan taken back"), "undone_at", "undone_by",
        lambda row: Words(str(row)), only=Q(undone_at__isnull=False), links=("depot",),
    ),
    "let go": Kind(
        LettingGo, _("records let go"), "gone_at", "gone_by",
        lambda row: Words(str(row), before=str(sum(row.rows.values())),
                          why=str(row.get_rule_set_display())),
        links=("door",),
    ),
    "announced": Kind(
        AnnouncedChange, _("change announced"), "entered_at", "entered_by",
        lambda row: Words(str(row), why=row.note), links=("depot",),
    ),
    "announced back": Kind(
        AnnouncedChange, _("announced change cancelled"), "cancelled_at", "cancelled_by",
        lambda row: Words(str(row), why=row.cancelled_because),
        only=Q(cancelled_at__isnull=False), links=("depot",),
    ),
    "order": Kind(
        OrderStep, _("order"), "entered_at", "entered_by", _order_step,
        links=("order", "order__supplier", "order__depot"),
    ),
}  # fmt: skip
KINDS = _kinds()


def changes(
    *,
    person: User | None = None,
    since: datetime | None = None,
    until: datetime | None = None,
) -> QuerySet[Any, Any]:
    """Kind, key, moment and person of every change chosen, the latest first; one query."""
    parts = [_chosen(name, kind, person, since, until) for name, kind in KINDS.items()]
    return parts[0].union(*parts[1:], all=True).order_by("-change_at", "change_kind", "-change_key")


def _chosen(
    name: str, kind: Kind, person: User | None, since: datetime | None, until: datetime | None
) -> QuerySet[Any, Any]:
    rows = kind.model._default_manager.filter(kind.only)
    if person:
        rows = rows.filter(**{kind.by: person})
    if since:
        rows = rows.filter(**{f"{kind.at}__gte": since})
    if until:
        rows = rows.filter(**{f"{kind.at}__lt": until})
    return (
        rows.order_by()
        .annotate(
            change_kind=Value(name, output_field=CharField()),
            change_key=F("pk"),
            change_at=F(kind.at),
            change_by=F(kind.by),
        )
        .values_list("change_kind", "change_key", "change_at", "change_by")
    )


def shown(lines: Iterable[tuple[str, int, datetime, int | None]]) -> list[Change]:
    """The lines in words; one query for each kind among them, and one for the people."""
    lines = list(lines)
    people = User.objects.in_bulk({by for *_rest, by in lines if by})
    rows: dict[str, dict[int, Row]] = {}
    for name in dict.fromkeys(line[0] for line in lines):
        keys = [key for kind, key, _at, _by in lines if kind == name]
        found = KINDS[name].model._default_manager.select_related(*KINDS[name].links)
        rows[name] = found.in_bulk(keys)
    return [
        Change(at, people.get(by or 0), KINDS[name].label, KINDS[name].words(rows[name][key]))
        for name, key, at, by in lines
        if key in rows[name]
    ]
