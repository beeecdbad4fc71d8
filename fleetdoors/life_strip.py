"""A door's life on one strip: cycles run along it, everything that happened stands on it."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from fleetdoors.drawing import Scale, round_steps

TOP_ROWS = 3  # readings, work, faults
ROW_HEIGHT = 34
SPAN_ROW_HEIGHT = 38
AXIS_HEIGHT = 34


class Ending(StrEnum):
    """How the life of a fitted part ended, if it has."""

    FAILURE = "failure"
    PLANNED = "planned"
    OTHER = "other"
    RUNNING = "running"


class EventKind(StrEnum):
    """What a mark on the strip stands for."""

    VISIT = "visit"
    TASK = "task"
    FAULT = "fault"


@dataclass(frozen=True, slots=True)
class ReadingMark:
    """A counter reading at lifetime cycles; a held one has not been settled."""

    at_cycles: float
    label: str
    is_held: bool = False


@dataclass(frozen=True, slots=True)
class EventMark:
    """A visit, a task done or a fault at lifetime cycles."""

    at_cycles: float
    label: str
    kind: EventKind


@dataclass(frozen=True, slots=True)
class PartSpan:
    """A fitted part from fitting to its ending, in lifetime cycles of the door."""

    row: str
    start_cycles: float
    end_cycles: float
    ending: Ending
    label: str
    is_start_known: bool = True


@dataclass(frozen=True, slots=True)
class DateMark:
    """Where on the cycle axis a date fell, such as the turn of a year."""

    at_cycles: float
    label: str


@dataclass(frozen=True, slots=True)
class PlacedMark:
    """A mark with its place along the strip."""

    x: str
    label: str
    kind: str


@dataclass(frozen=True, slots=True)
class PlacedSpan:
    """A span with its place along the strip."""

    x: str
    width: str
    end_x: str
    label: str
    ending: str
    is_start_known: bool


@dataclass(frozen=True, slots=True)
class SpanRow:
    """The lives of one component and position, one after the other."""

    name: str
    y: int
    spans: tuple[PlacedSpan, ...]


@dataclass(frozen=True, slots=True)
class Tick:
    """A labelled place on the axis; ``anchor`` keeps its text inside the strip."""

    x: str
    label: str
    anchor: str
    is_minor: bool


@dataclass(frozen=True, slots=True)
class LifeStrip:
    """Everything the strip's template needs, as text ready for SVG attributes."""

    height: int
    axis_y: int
    readings: tuple[PlacedMark, ...]
    tasks: tuple[PlacedMark, ...]
    faults: tuple[PlacedMark, ...]
    rows: tuple[SpanRow, ...]
    ticks: tuple[Tick, ...]
    dates: tuple[Tick, ...]


def draw_life(
    *,
    start_cycles: float,
    end_cycles: float,
    readings: Sequence[ReadingMark] = (),
    events: Sequence[EventMark] = (),
    spans: Sequence[PartSpan] = (),
    dates: Sequence[DateMark] = (),
) -> LifeStrip:
    """Place a door's record along its cycles.

    ``start_cycles`` is where the record begins, ``end_cycles`` where it ends at present.
    Rows of parts keep the order in which their first span is given.
    """
    scale = Scale(start_cycles, end_cycles)
    _refuse_backward_spans(spans)
    rows = _rows(spans, scale)
    axis_y = TOP_ROWS * ROW_HEIGHT + len(rows) * SPAN_ROW_HEIGHT
    return LifeStrip(
        height=axis_y + AXIS_HEIGHT,
        axis_y=axis_y,
        readings=tuple(
            PlacedMark(scale.place(r.at_cycles), r.label, "held" if r.is_held else "accepted")
            for r in readings
        ),
        tasks=(
            *_placed(events, scale, EventKind.VISIT),  # frames first: tasks are drawn inside them
            *_placed(events, scale, EventKind.TASK),
        ),
        faults=_placed(events, scale, EventKind.FAULT),
        rows=rows,
        ticks=_ticks(scale),
        dates=tuple(_tick(scale, d.at_cycles, d.label, False) for d in dates),
    )


def _refuse_backward_spans(spans: Sequence[PartSpan]) -> None:
    for span in spans:
        if span.end_cycles < span.start_cycles:
            raise ValueError(
                f"A part must end at or after the cycles it was fitted at, got {span.row} "
                f"from {span.start_cycles} to {span.end_cycles}"
            )


def _placed(events: Sequence[EventMark], scale: Scale, kind: EventKind) -> tuple[PlacedMark, ...]:
    return tuple(
        PlacedMark(scale.place(e.at_cycles), e.label, e.kind.value)
        for e in events
        if e.kind is kind
    )


def _rows(spans: Sequence[PartSpan], scale: Scale) -> tuple[SpanRow, ...]:
    by_row: dict[str, list[PlacedSpan]] = {}
    for span in spans:
        by_row.setdefault(span.row, []).append(
            PlacedSpan(
                x=scale.place(span.start_cycles),
                width=scale.width(span.start_cycles, span.end_cycles),
                end_x=scale.place(span.end_cycles),
                label=span.label,
                ending=span.ending.value,
                is_start_known=span.is_start_known,
            )
        )
    top = TOP_ROWS * ROW_HEIGHT
    return tuple(
        SpanRow(name=name, y=top + number * SPAN_ROW_HEIGHT, spans=tuple(placed))
        for number, (name, placed) in enumerate(by_row.items())
    )


def _ticks(scale: Scale) -> tuple[Tick, ...]:
    values = round_steps(scale.start, scale.end, 6)
    return tuple(
        _tick(scale, value, f"{value:,.0f}", number % 2 == 1) for number, value in enumerate(values)
    )


def _tick(scale: Scale, value: float, label: str, is_minor: bool) -> Tick:
    share = scale.share(value)
    anchor = "start" if share < 0.06 else "end" if share > 0.94 else "middle"
    return Tick(x=scale.place(value), label=label, anchor=anchor, is_minor=is_minor)
