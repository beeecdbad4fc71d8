"""The small door says its state by shape alone, and never says shut before it is due."""

import re

import pytest

from fleetdoors.door_sign import (
    BOTTOM,
    FLOOR,
    LINTEL,
    SLAT_HEIGHT,
    SLATS,
    DoorSign,
    DoorState,
    Tone,
    draw_door,
)

NUMBERS = re.compile(r"-?\d+(?:\.\d+)?")


def shapes(sign: DoorSign) -> tuple[object, ...]:
    """What is left of a sign without its colours."""
    return (
        sign.slat_path,
        sign.edge_path,
        sign.hatch_path,
        sign.is_dashed,
        sign.has_notch,
        sign.has_bar,
    )


@pytest.mark.parametrize(("share", "edge"), [(0.25, 12), (0.5, 20), (0.75, 28)])
def test_the_edge_stands_where_the_share_says(share: float, edge: float) -> None:
    assert draw_door(share, "later").edge == edge


def test_half_used_shows_four_whole_slats() -> None:
    slats = draw_door(0.5, "later").slats
    assert len(slats) == SLATS // 2
    assert slats[0].top == LINTEL
    assert slats[-1].top + slats[-1].height == 20


def test_slats_move_with_the_lower_edge_like_a_curtain() -> None:
    first = draw_door(0.55, "later").slats[0]
    assert first.height < SLAT_HEIGHT - 1
    assert first.top == LINTEL


@pytest.mark.parametrize("share", [0.0, 0.4, 0.97, 1.0])
def test_due_is_shut_whatever_the_share(share: float) -> None:
    sign = draw_door(share, DoorState.DUE)
    assert sign.edge == FLOOR
    assert len(sign.slats) == SLATS
    assert sign.tone is Tone.SHUT
    assert sign.hatch_height == 0


@pytest.mark.parametrize("state", ["later", "soon"])
@pytest.mark.parametrize("share", [0.93, 0.999, 1.0, 3.0])
def test_what_is_not_due_keeps_a_gap_of_a_slat_at_the_floor(state: str, share: float) -> None:
    assert draw_door(share, state).edge == FLOOR - SLAT_HEIGHT


def test_a_new_door_still_shows_its_edge() -> None:
    sign = draw_door(0, "later")
    assert LINTEL < sign.edge <= LINTEL + SLAT_HEIGHT
    assert sign.tone is Tone.OPEN


def test_the_hatch_grows_with_lateness_and_ends() -> None:
    heights = [draw_door(share, "late").hatch_height for share in (1, 1.25, 1.5, 2, 9)]
    assert heights == [8, 12, 16, 24, 24]


def test_a_task_late_by_the_calendar_alone_is_hatched_too() -> None:
    assert draw_door(0.6, "late").hatch_height == 8


@pytest.mark.parametrize("share", [1, 1.25, 1.5, 1.75, 2])
def test_stripes_stay_inside_the_sign(share: float) -> None:
    sign = draw_door(share, "late")
    values = [float(text) for text in NUMBERS.findall(sign.hatch_path)]
    assert min(values[::2]) == 0
    assert max(values[::2]) == BOTTOM
    assert min(values[1::2]) == BOTTOM - sign.hatch_height
    assert max(values[1::2]) == BOTTOM


def test_stripes_cover_half_of_their_ground() -> None:
    sign = draw_door(1.5, "late")
    ground = BOTTOM * sign.hatch_height
    assert _area(sign.hatch_path) == pytest.approx(ground / 2)


def test_unknown_needs_no_share_and_is_dashed_with_no_edge() -> None:
    sign = draw_door(None, "unknown")
    assert sign.is_dashed
    assert sign.edge_path == ""
    assert sign.tone is Tone.NONE
    assert len(sign.slats) == SLATS


def test_notch_and_bar_belong_to_one_state_each() -> None:
    marked = {state: draw_door(0.4, state) for state in DoorState}
    assert [s for s, sign in marked.items() if sign.has_notch] == [DoorState.CONDITION]
    assert [s for s, sign in marked.items() if sign.has_bar] == [DoorState.OUT_OF_SERVICE]


def test_every_state_is_told_apart_without_colour() -> None:
    signs = [draw_door(0.4 if state == "later" else 0.9, state) for state in DoorState]
    assert len({shapes(sign) for sign in signs}) == len(DoorState)


@pytest.mark.parametrize("state", ["later", "soon", "due", "late"])
def test_a_state_by_use_refuses_a_missing_share(state: str) -> None:
    with pytest.raises(ValueError, match=f"'{state}' needs a share used, got None"):
        draw_door(None, state)


@pytest.mark.parametrize("share", [-0.01, float("nan"), float("inf")])
def test_a_share_that_is_no_share_is_refused(share: float) -> None:
    with pytest.raises(ValueError, match="from 0 up"):
        draw_door(share, "later")


def test_an_unheard_of_state_is_refused() -> None:
    with pytest.raises(ValueError, match="'fine' is not a valid DoorState"):
        draw_door(0.5, "fine")


def _area(path: str) -> float:
    """Area of the polygons of a path, by the shoelace formula."""
    total = 0.0
    for polygon in path.split("z")[:-1]:
        flat = [float(text) for text in NUMBERS.findall(polygon)]
        points = list(zip(flat[::2], flat[1::2], strict=True))
        closed = [*points[1:], points[0]]
        total += (
            abs(sum(x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in zip(points, closed, strict=True)))
            / 2
        )
    return total
