"""Drivers' reports step by step, and holds placed and lifted."""

from datetime import timedelta

import pytest

from inspections.models import DefectReport, DefectState, DefectStep, HoldReason, RoadHold
from inspections.services import defects
from inspections.services.defects import (
    NEXT_STEPS,
    DefectRefusedError,
    TooManyReportsError,
    alike,
    report_defect,
    take_step,
)
from inspections.services.holds import HoldRefusedError, lift_hold, place_hold
from tests.factories import NOW, make_door, make_loose_door, make_user
from tests.truck_factories import make_defect_report, make_hold, make_spring_word

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("recompute_requests")]


def reported(door=None, words: str = "", by=None, minutes: int = 0, **facts) -> DefectReport:
    told = {"complaint": "S1", "reporter": "Robin"} | facts
    return report_defect(
        door=door or make_door(),
        words=words,
        reported_at=NOW,
        entered_at=NOW + timedelta(minutes=minutes),
        entered_by=by,
        **told,
    )


def stepped(report: DefectReport, *kinds: str, name: str = "Kim", reason: str = "because") -> None:
    person = make_user()
    for number, kind in enumerate(kinds):
        take_step(
            report=report,
            kind=kind,
            taken_at=NOW + timedelta(minutes=number),
            name=name,
            role="technician",
            reason=reason,
            entered_at=NOW,
            entered_by=person,
        )


def test_a_report_keeps_the_truck_and_stops_nothing() -> None:
    door = make_door()
    report = reported(door, complaint="S8", words="bang, now it hangs")
    assert report.truck == door.mountings.get().truck
    assert report.state == DefectState.REPORTED
    assert not RoadHold.objects.exists()


def test_a_form_sent_twice_is_one_report() -> None:
    door = make_door()
    assert reported(door) == reported(door, minutes=5)
    assert reported(door, minutes=20).pk != DefectReport.objects.earliest("entered_at").pk


@pytest.mark.parametrize(
    ("facts", "field"), [({"complaint": "S99"}, "complaint"), ({"reporter": "  "}, "reporter")]
)
def test_a_report_says_what_and_who(facts: dict[str, str], field: str) -> None:
    with pytest.raises(DefectRefusedError) as refused:
        reported(**facts)
    assert refused.value.field == field
    assert not DefectReport.objects.exists()


def test_a_door_takes_six_reports_an_hour_from_strangers() -> None:
    door = make_door()
    for number in range(6):
        reported(door, words=f"{number}")
    with pytest.raises(TooManyReportsError):
        reported(door, words="one more")
    assert DefectReport.objects.count() == 6
    reported(door, words="one more", by=make_user())
    reported(door, words="an hour later", minutes=61)
    reported(make_door(), words="another door")


def test_all_doors_together_have_a_limit_too(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(defects, "MOST_AN_HOUR_IN_ALL", 2)
    reported()
    reported()
    with pytest.raises(TooManyReportsError):
        reported()


@pytest.mark.parametrize(
    "way",
    [
        (DefectState.ASSESSED, DefectState.REPAIR_PLANNED, DefectState.REPAIRED),
        (DefectState.REPAIRED,),
        (DefectState.ASSESSED, DefectState.UNNECESSARY),
    ],
)
def test_each_way_ends_signed_off_and_acknowledged(way: tuple[str, ...]) -> None:
    report = make_defect_report()
    stepped(report, *way, DefectState.CERTIFIED)
    take_step(
        report=report, kind=DefectState.ACKNOWLEDGED, taken_at=NOW, name="Next driver",
        entered_at=NOW,
    )  # fmt: skip
    report.refresh_from_db()
    assert report.state == DefectState.ACKNOWLEDGED
    assert [step.kind for step in report.steps.order_by("pk")] == [
        *way, DefectState.CERTIFIED, DefectState.ACKNOWLEDGED,
    ]  # fmt: skip


@pytest.mark.parametrize("state", DefectState.values)
@pytest.mark.parametrize("kind", DefectState.values)
def test_no_step_is_left_out(state: str, kind: str) -> None:
    report = make_defect_report()
    DefectReport.objects.filter(pk=report.pk).update(state=state)
    if kind in NEXT_STEPS[state]:
        stepped(report, kind)
        assert DefectStep.objects.count() == 1
        return
    with pytest.raises(DefectRefusedError, match="does not go to"):
        stepped(report, kind)
    assert not DefectStep.objects.exists()


def test_a_step_sent_twice_is_taken_once() -> None:
    report = make_defect_report()
    stepped(report, DefectState.ASSESSED, DefectState.ASSESSED)
    assert DefectStep.objects.count() == 1


def test_unnecessary_needs_a_reason_every_step_a_name_and_most_an_account() -> None:
    report = make_defect_report()
    with pytest.raises(DefectRefusedError, match="with a reason"):
        stepped(report, DefectState.UNNECESSARY, reason=" ")
    with pytest.raises(DefectRefusedError, match="carries a name"):
        stepped(report, DefectState.ASSESSED, name="")
    with pytest.raises(DefectRefusedError, match="needs no account"):
        take_step(
            report=report, kind=DefectState.ASSESSED, taken_at=NOW, name="Kim", entered_at=NOW
        )
    assert not DefectStep.objects.exists()


def test_the_same_complaint_of_the_last_seven_days_is_found() -> None:
    door = make_door()
    near = make_defect_report(door=door, reported_at=NOW - timedelta(days=6))
    make_defect_report(door=door, reported_at=NOW - timedelta(days=8))
    make_defect_report(door=door, complaint="S2")
    ended = make_defect_report(door=door)
    stepped(ended, DefectState.REPAIRED, DefectState.CERTIFIED)
    assert alike(door=door, complaint="S1", as_of=NOW) == [near]


# Holds


def lifted(hold: RoadHold, by, signed: str = "Kim", done: str = "new spring", hours: int = 1):
    return lift_hold(
        hold=hold,
        signed_by=signed,
        signed_role="technician",
        what_was_done=done,
        lifted_at=NOW + timedelta(hours=hours),
        lifted_by=by,
        entered_at=NOW,
    )


def test_one_hold_stands_for_each_reason() -> None:
    door = make_door()
    first = make_hold(door=door)
    again = place_hold(
        door=door, because=HoldReason.SPRING_OR_CABLE, detail="", placed_at=NOW, entered_at=NOW
    )
    other = place_hold(
        door=door, because=HoldReason.NOT_SECURED, detail="", placed_at=NOW, entered_at=NOW
    )
    assert first == again
    assert RoadHold.objects.standing().count() == 2
    assert first.keeps_truck
    assert other.keeps_truck
    assert not RoadHold(because=HoldReason.REVERSE).keeps_truck


def test_a_door_on_no_truck_is_held_too() -> None:
    hold = place_hold(
        door=make_loose_door(), because=HoldReason.DROPS, detail="", placed_at=NOW, entered_at=NOW
    )
    assert hold.truck is None


def test_spring_damage_is_signed_by_a_trained_person() -> None:
    hold, person = make_hold(), make_user()
    with pytest.raises(HoldRefusedError, match="trained and authorized"):
        lifted(hold, person)
    assert RoadHold.objects.standing().count() == 1
    make_spring_word(person=person)
    ended = lifted(hold, person)
    assert (ended.signed_by, ended.lifted_by) == ("Kim", person)
    assert lifted(hold, make_user(), signed="Somebody else").signed_by == "Kim"


def test_another_hold_is_signed_by_name() -> None:
    hold = make_hold(because=HoldReason.NOT_SECURED)
    lifted(hold, make_user())
    assert not RoadHold.objects.standing().exists()


@pytest.mark.parametrize(
    ("told", "field"),
    [({"signed": " "}, "signed_by"), ({"done": ""}, "what_was_done"), ({"hours": -1}, "lifted_at")],
)
def test_a_hold_is_lifted_by_name_with_what_was_done_and_afterwards(told, field: str) -> None:
    hold = make_hold(because=HoldReason.NOT_SECURED)
    with pytest.raises(HoldRefusedError) as refused:
        lifted(hold, make_user(), **told)
    assert refused.value.field == field
    assert RoadHold.objects.standing().exists()
