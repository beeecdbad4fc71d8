"""Announcing and cancelling: each refusal, and what is asked for afterwards."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from pytest_django import DjangoCaptureOnCommitCallbacks

from inspections.models import AnnouncedChange, AnnouncedKind
from inspections.services.announced_changes import (
    Announcement,
    AnnouncementRefusedError,
    announce,
    cancel_announced,
)
from tests import recompute_requests
from tests.announced_factories import TODAY, make_campaign
from tests.factories import NOW, component, make_depot, make_door_model, make_part, make_user

pytestmark = pytest.mark.django_db


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch, settings: Any) -> list[str]:
    """How often new outlooks were asked for."""
    found: list[str] = []
    settings.RECOMPUTE_OUTLOOKS = "tests.recompute_requests.keep_outlooks"
    monkeypatch.setattr(recompute_requests, "keep_outlooks", lambda: found.append("asked"))
    return found


def of_kind(kind: str) -> Announcement:
    """A complete announcement of the kind."""
    said = Announcement(kind=kind, depot=make_depot(), from_on=TODAY, note="The office")
    if kind == AnnouncedKind.TRUCKS:
        return replace(said, door_model=make_door_model(), doors=4, cycles_per_day=30.0)
    if kind == AnnouncedKind.USE:
        return replace(said, factor=1.5)
    part = make_part(component=component("fuse"))
    return replace(said, part=part, new_part=part, doors=4, pieces_per_door=1, until_on=TODAY)


@pytest.mark.parametrize("kind", AnnouncedKind.values)
def test_a_change_is_kept_with_who_and_when_and_asks_for_outlooks(
    kind: str,
    asked: list[str],
    django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks,
) -> None:
    person = make_user()
    with django_capture_on_commit_callbacks(execute=True):
        row = announce(said=of_kind(kind), entered_at=NOW, entered_by=person)
    assert (row.entered_by, row.entered_at, row.is_standing) == (person, NOW, True)
    with django_capture_on_commit_callbacks(execute=True):
        cancel_announced(change=row, reason=" Put off ", at=NOW, by=person)
    row.refresh_from_db()
    assert (row.cancelled_by, row.cancelled_at, row.cancelled_because) == (person, NOW, "Put off")
    assert asked == ["asked", "asked"]


NEEDED = [
    *((AnnouncedKind.TRUCKS, name) for name in ("depot", "door_model", "doors", "cycles_per_day")),
    (AnnouncedKind.USE, "factor"),
    *(
        (AnnouncedKind.CAMPAIGN, name)
        for name in ("depot", "part", "new_part", "doors", "pieces_per_door", "until_on")
    ),
]


@pytest.mark.parametrize(("kind", "name"), NEEDED)
def test_what_a_kind_needs_is_asked_for(kind: str, name: str) -> None:
    said = replace(of_kind(kind), **{name: None})
    with pytest.raises(AnnouncementRefusedError, match="needed to work it out") as refused:
        announce(said=said, entered_at=NOW)
    assert refused.value.field == name
    assert not AnnouncedChange.objects.exists()


WRONG: list[tuple[str, dict[str, Any], str, str]] = [
    (AnnouncedKind.USE, {"kind": "weather"}, "kind", "Say what is coming"),
    (AnnouncedKind.USE, {"note": "  "}, "note", "who says so"),
    (AnnouncedKind.USE, {"factor": 9.0}, "factor", "from 0.1 to 5.0: 9.0"),
    (AnnouncedKind.USE, {"factor": 0.0}, "factor", "from 0.1 to 5.0: 0.0"),
    (AnnouncedKind.TRUCKS, {"doors": 0}, "doors", "above 0: 0"),
    (AnnouncedKind.TRUCKS, {"cycles_per_day": -1.0}, "cycles_per_day", "above 0: -1.0"),
    (AnnouncedKind.USE, {"until_on": TODAY - timedelta(days=1)}, "until_on", "lies before"),
    (
        AnnouncedKind.USE,
        {"from_on": TODAY - timedelta(days=9), "until_on": TODAY - timedelta(days=1)},
        "until_on",
        "has passed",
    ),
]


@pytest.mark.parametrize(("kind", "facts", "field", "words"), WRONG)
def test_what_cannot_be_is_refused(
    kind: str, facts: dict[str, Any], field: str, words: str
) -> None:
    with pytest.raises(AnnouncementRefusedError, match=words) as refused:
        announce(said=replace(of_kind(kind), **facts), entered_at=NOW)
    assert refused.value.field == field
    assert not AnnouncedChange.objects.exists()


def test_a_part_takes_the_place_of_its_like_only() -> None:
    said = replace(
        of_kind(AnnouncedKind.CAMPAIGN), new_part=make_part(component=component("motor"))
    )
    with pytest.raises(AnnouncementRefusedError, match="another component"):
        announce(said=said, entered_at=NOW)


def test_cancelling_says_why_and_happens_once() -> None:
    change = make_campaign()
    with pytest.raises(AnnouncementRefusedError, match="reason is empty"):
        cancel_announced(change=change, reason=" ", at=NOW)
    cancel_announced(change=change, reason="Put off", at=NOW)
    with pytest.raises(AnnouncementRefusedError, match="cancelled before"):
        cancel_announced(change=change, reason="Again", at=NOW)
