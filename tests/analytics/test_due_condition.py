"""A finding asks for a task before its interval is over, as long as it is open."""

from __future__ import annotations

from datetime import timedelta

import pytest

from analytics.models import DueTask
from analytics.recompute.full import recompute_fleet
from inspections.models import FollowUp
from inspections.services.follow_ups import answer_follow_up, open_follow_up
from tests import factories as make
from tests.analytics.asking import ask
from tests.analytics.test_figures_due import AS_OF, TODAY, door_at

pytestmark = pytest.mark.django_db
FOUND = make.NOW.replace(hour=9) - timedelta(days=3)


def asked(door, code: str = "BAL") -> FollowUp:
    return open_follow_up(
        door=door,
        task=make.task(code),
        because="Drift at half open: -200 mm",
        opened_at=FOUND,
        entered_at=FOUND,
    )


def states(*options: str) -> dict[tuple[str, str], str]:
    return {(row["door"], row["task"]): row["state"] for row in ask("due", *(options or (AS_OF,)))}


def test_an_open_finding_makes_its_task_due_and_no_other():
    door, other = door_at(), door_at()
    for each in (door, other):
        make.make_task_done(door=each, task=make.task("BAL"), done_at=FOUND - timedelta(days=20))
    before = states()
    asked(door)
    row = next(
        each for each in ask("due", AS_OF) if (each["door"], each["task"]) == (door.serial, "BAL")
    )
    assert (row["state"], row["governed_by"]) == ("condition", "condition")
    assert row["due_on"] == str(FOUND.date())
    assert row["reason"]
    changed = {key for key, state in states().items() if before[key] != state}
    assert changed == {(door.serial, "BAL")}


def test_an_answered_finding_asks_no_longer_but_did_before():
    door = door_at()
    follow_up = asked(door)
    done = make.make_task_done(
        door=door, task=make.task("BAL"), done_at=make.NOW.replace(hour=10) - timedelta(days=1)
    )
    answer_follow_up(follow_up=follow_up, done=done, entered_at=done.done_at)
    key = (door.serial, "BAL")
    assert states()[key] != "condition"
    assert states(f"--as-of={TODAY - timedelta(days=1)}")[key] == "condition"
    assert states(f"--as-of={TODAY - timedelta(days=3)}")[key] != "condition"


def test_an_ending_entered_late_was_not_known_then():
    door = door_at()
    follow_up = asked(door)
    done = make.make_task_done(
        door=door, task=make.task("BAL"), done_at=make.NOW.replace(hour=10) - timedelta(days=2)
    )
    answer_follow_up(follow_up=follow_up, done=done, entered_at=make.NOW)
    assert states()[(door.serial, "BAL")] == "condition"


def test_the_derived_row_says_condition_until_the_finding_is_answered():
    door = door_at()
    follow_up = asked(door)
    recompute_fleet(as_of=make.NOW, started_at=make.NOW)
    row = DueTask.objects.current().get(door=door, task__code="BAL")
    assert (row.state, row.governed_by) == ("condition", "condition")
    done = make.make_task_done(door=door, task=make.task("BAL"), done_at=make.NOW)
    answer_follow_up(follow_up=follow_up, done=done, entered_at=make.NOW)
    later = make.NOW + timedelta(hours=1)
    recompute_fleet(as_of=later, started_at=later)
    assert DueTask.objects.current().get(door=door, task__code="BAL").state == "later"
