"""Entries from a phone: taken once, by the right clock and author, one at a time, never lost."""

import json
from base64 import b64encode
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from pathlib import Path
from threading import Barrier
from typing import Any
from uuid import UUID, uuid4

import pytest
from django.core import signing
from django.db import DatabaseError, connection
from django.test import Client
from pytest_django.fixtures import Settings

from fleetdoors.models import DoorUnit, Role, User
from inspections.models import (
    CounterReading,
    DeviceEntry,
    EntryOutcome,
    Fault,
    FaultTrace,
    FinalCheck,
    Inspection,
    Tick,
    VisitState,
)
from inspections.services import device_authors, device_entries
from inspections.services.attachments import PHOTO_LIMIT_BYTES
from inspections.services.device_authors import author_of, word_of
from inspections.services.device_entries import put_right, read_entry, take_entry
from inspections.services.device_kinds import READERS, VERSION
from inspections.services.device_kinds.arriving import EntryRefusedError, EntryTooEarlyError
from tests.factories import NOW, make_depot, make_door, make_reading, make_truck, make_user
from tests.truck_factories import make_open_visit, make_tick, make_visit

HERE = Path(__file__).parent
JPEG = b"\xff\xd8\xff\xe0" + bytes(200)
ADDRESS = "/round/entries/"
# The phone's clock runs 40 minutes fast; the entry was made an hour before it arrived.
FAST = timedelta(minutes=40)
MADE = NOW - timedelta(hours=1)

pytestmark = pytest.mark.django_db


@pytest.fixture
def door(recompute_requests: object) -> DoorUnit:
    return make_door()


@pytest.fixture
def kim() -> User:
    return make_user(username="kim")


def raw(
    kind: str = "reading",
    *,
    about: dict[str, Any],
    fields: dict[str, Any] | None = None,
    author: User | None = None,
    client_id: UUID | None = None,
    **rest: Any,
) -> dict[str, Any]:
    """An entry as a phone sends it."""
    return {
        "client_id": str(client_id or uuid4()),
        "kind": kind,
        "version": VERSION,
        "payload": {"about": about, "fields": fields or {}},
        "happened_at": (MADE + FAST).isoformat(),
        "phone_now": (NOW + FAST).isoformat(),
        "author": word_of(author) if author else "",
        **rest,
    }


def taken(entry: dict[str, Any], *, sender: User, received_at: datetime = NOW) -> DeviceEntry:
    return take_entry(sent=read_entry(entry), sender=sender, received_at=received_at)


def reading_of(door: DoorUnit, value: str = "1234", **rest: Any) -> dict[str, Any]:
    return raw(about={"door": door.serial}, fields={"counter_value": value}, **rest)


def test_a_reading_keeps_its_own_moment_by_a_clock_put_right(door: DoorUnit, kim: User) -> None:
    entry = taken(reading_of(door), sender=kim)
    reading = CounterReading.objects.get()
    assert entry.outcome == EntryOutcome.STORED
    assert entry.result == {"reading": reading.pk}
    assert (entry.happened_at_raw, entry.happened_at) == (MADE + FAST, MADE)
    assert (reading.read_at, reading.entered_at) == (MADE, NOW)
    assert (reading.counter_value, reading.entered_by, reading.read_by) == (1234, kim, "kim")


def test_a_moment_typed_by_the_person_counts_by_the_depots_clock(kim: User) -> None:
    door = make_door(truck=make_truck(depot=make_depot(timezone="America/Chicago")))
    entry = reading_of(door)
    entry["payload"]["fields"]["read_at"] = "2025-01-02T06:30"
    taken(entry, sender=kim)
    assert CounterReading.objects.get().read_at == datetime(2025, 1, 2, 12, 30, tzinfo=UTC)


def test_a_phone_whose_clock_was_set_in_between_enters_nothing_in_the_future() -> None:
    entry = read_entry(raw(about={}, happened_at=(NOW + timedelta(days=300)).isoformat()))
    assert put_right(entry, NOW) == NOW


def test_the_same_entry_again_is_taken_once_and_answered_the_same(
    door: DoorUnit, kim: User
) -> None:
    entry = reading_of(door)
    first, again = taken(entry, sender=kim), taken(entry, sender=make_user())
    assert first == again
    assert CounterReading.objects.count() == DeviceEntry.objects.count() == 1


@pytest.mark.django_db(transaction=True)
def test_of_the_same_entry_twice_at_one_time_one_is_taken(
    door: DoorUnit, kim: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    entry = reading_of(door)
    both_have_looked = Barrier(2, timeout=20)

    def waits(word: str, *, sender: User) -> User:
        both_have_looked.wait()
        return author_of(word, sender=sender)

    def send(_number: int) -> int:
        try:
            return taken(entry, sender=kim).pk
        finally:
            connection.close()

    monkeypatch.setattr(device_entries, "author_of", waits)
    with ThreadPoolExecutor(2) as threads:
        assert len(set(threads.map(send, range(2)))) == 1
    assert CounterReading.objects.count() == DeviceEntry.objects.count() == 1


def test_the_author_stays_the_author_in_another_persons_session(door: DoorUnit, kim: User) -> None:
    other = make_user(username="robin")
    entry = taken(reading_of(door, author=kim), sender=other)
    assert entry.author == kim
    assert entry.result["sent_by"] == other.pk
    assert CounterReading.objects.get().entered_by == kim


def test_nobody_signs_as_another_person(door: DoorUnit, kim: User) -> None:
    forged = reading_of(door)
    forged["author"] = signing.dumps(kim.pk, key="another secret", salt=device_authors.SALT)
    entry = taken(forged, sender=make_user(username="robin"))
    assert entry.outcome == EntryOutcome.REFUSED
    assert "sign in as that person" in entry.refusal
    assert not CounterReading.objects.exists()


def test_a_person_who_may_no_longer_enter_is_refused(door: DoorUnit, kim: User) -> None:
    entry = reading_of(door, author=kim)
    kim.role = Role.BUYER
    kim.save()
    refused = taken(entry, sender=kim)
    assert refused.refusal == "kim makes no entries of this kind: the role is “Parts buyer”."


def test_a_door_that_the_author_may_not_see_is_refused(door: DoorUnit) -> None:
    stranger = make_user(depots=[make_depot()])
    assert "is not among those" in taken(reading_of(door), sender=stranger).refusal


@pytest.mark.parametrize(
    ("value", "why"),
    [("12a4", "Only digits stand on a counter"), ("99999999", "has more")],
)
def test_a_reading_that_cannot_be_is_refused_and_kept_with_the_reason(
    door: DoorUnit, kim: User, value: str, why: str
) -> None:
    entry = taken(reading_of(door, value), sender=kim)
    assert entry.outcome == EntryOutcome.REFUSED
    assert why in entry.refusal
    assert entry.payload["fields"] == {"counter_value": value}
    assert not CounterReading.objects.exists()


def test_another_value_on_record_is_told_beside_the_phones(door: DoorUnit, kim: User) -> None:
    make_reading(door=door, counter_value=1200, read_at=MADE)
    entry = taken(reading_of(door), sender=kim)
    assert entry.result["differences"] == [{"label": "Counter", "here": "1234", "there": "1200"}]
    assert CounterReading.objects.get().counter_value == 1200


def test_a_fault_is_found_when_the_phone_says(door: DoorUnit, kim: User) -> None:
    fields = {"complaint": "S1", "is_failure": "on", "note": "dead since the wash"}
    entry = taken(raw("fault", about={"door": door.serial}, fields=fields), sender=kim)
    fault = Fault.objects.get()
    assert entry.result == {"fault": fault.pk}
    assert (fault.found_at, fault.complaint, fault.is_failure) == (MADE, "S1", True)


def test_an_inspection_brings_its_values_and_judges_them(door: DoorUnit, kim: User) -> None:
    fields = {"battery_rest": "12,6", "spring": "0", "kind": "routine"}
    entry = taken(raw("inspection", about={"door": door.serial}, fields=fields), sender=kim)
    inspection = Inspection.objects.get()
    assert entry.result == {"inspection": inspection.pk}
    assert (inspection.begun_at, inspection.inspector) == (MADE, "kim")
    assert {each.quantity: each.value for each in inspection.measurements.all()} == {
        "battery_rest": 12.6,
        "spring": 0.0,
    }


def test_an_unusual_value_is_asked_about_and_sent_again_it_is_meant(
    door: DoorUnit, kim: User
) -> None:
    fields = {"converter_no_load": "3.2"}
    first = taken(raw("inspection", about={"door": door.serial}, fields=fields), sender=kim)
    assert "decimal point" in first.refusal
    again = raw("inspection", about={"door": door.serial}, fields={**fields, "is_confirmed": "1"})
    assert taken(again, sender=kim).outcome == EntryOutcome.STORED


def test_a_visit_is_begun_ticked_and_checked(door: DoorUnit, kim: User) -> None:
    visit = make_visit(door=door)
    about = {"visit": str(visit.pk)}
    taken(raw("visit_open", about=about), sender=kim)
    taken(raw("tick", about=about, fields={"tick": Tick.CHOCKS}), sender=kim)
    items = dict.fromkeys(FinalCheck.ITEMS, "yes") | {"ajar_lamp": "no"}
    taken(raw("final_check", about=about, fields=items), sender=kim)
    visit.refresh_from_db()
    assert (visit.state, visit.started_at, visit.technician) == (VisitState.OPEN, MADE, kim)
    tick = visit.safety_ticks.get()
    assert (tick.tick, tick.ticked_at, tick.ticked_by) == (Tick.CHOCKS, MADE, kim)
    check = visit.final_checks.get()
    assert (check.reverses, check.ajar_lamp, check.checked_at) == (True, False, MADE)


def test_a_tick_that_is_never_skipped_is_refused(door: DoorUnit, kim: User) -> None:
    visit = make_open_visit(door=door)
    fields = {"tick": Tick.ISOLATION, "skipped_reason": "in a hurry"}
    entry = taken(raw("tick", about={"visit": str(visit.pk)}, fields=fields), sender=kim)
    assert "is never skipped" in entry.refusal
    assert not visit.safety_ticks.exists()


def test_a_visit_closed_meanwhile_is_told_side_by_side(door: DoorUnit, kim: User) -> None:
    visit = make_visit(
        door=door,
        state=VisitState.CLOSED,
        started_at=NOW,
        closed_at=NOW,
        signed_by="Robin",
        technician=kim,
    )
    entry = raw("tick", about={"visit": str(visit.pk)}, fields={"tick": Tick.CHOCKS})
    told = {each["label"]: each for each in taken(entry, sender=kim).result["differences"]}
    assert (told["Visit"]["here"], told["Visit"]["there"]) == ("open", "closed")
    assert told["Signed by"]["there"] == "Robin"
    assert told[str(Tick.CHOCKS.label)]["here"] == "set"
    assert not visit.safety_ticks.exists()


def answer_of(door: DoorUnit, number: int, node: str, reply: str = "yes") -> dict[str, Any]:
    about = {"door": door.serial, "symptom": "S1", "sequence": number}
    return raw("trace_answer", about=about, fields={"node": node, "reply": reply, "values": {}})


def test_answers_of_a_trace_arrive_in_order_and_one_is_taken_back(
    door: DoorUnit, kim: User
) -> None:
    taken(answer_of(door, 1, "N00"), sender=kim)
    trace = FaultTrace.objects.get()
    assert [row.node for row in trace.answers.in_force()] == ["N00"]
    about = {"door": door.serial, "symptom": "S1", "sequence": 1}
    taken(raw("trace_take_back", about=about), sender=kim)
    assert not trace.answers.in_force().exists()
    assert trace.answers.get().withdrawn_at == MADE


def test_an_answer_does_not_take_the_place_of_another(door: DoorUnit, kim: User) -> None:
    taken(answer_of(door, 1, "N00"), sender=kim)
    entry = taken(answer_of(door, 1, "N00", "cannot_tell"), sender=kim)
    told = {each["label"]: each for each in entry.result["differences"]}
    assert (told["Answer"]["here"], told["Answer"]["there"]) == ("cannot_tell", "yes")
    late = taken(answer_of(door, 5, "N10"), sender=kim)
    assert late.refusal == "Answer 5 came without the one before it: 1 are on record."


def photo_of(shown: dict[str, Any], content: bytes = JPEG) -> dict[str, Any]:
    data = b64encode(content).decode()
    return raw("photo", about={"of": shown["client_id"]}, fields={"data": data})


def test_a_photo_follows_the_reading_it_shows(
    door: DoorUnit, kim: User, settings: Settings, tmp_path: Path
) -> None:
    settings.MEDIA_ROOT = tmp_path
    shown = reading_of(door)
    taken(shown, sender=kim)
    photo = photo_of(shown)
    entry = taken(photo, sender=kim)
    kept = CounterReading.objects.get().attachments.get()
    assert entry.result == {"attachment": kept.pk}
    assert (kept.content_type, kept.bytes_count, kept.taken_at) == ("image/jpeg", len(JPEG), MADE)
    assert kept.file.read() == JPEG
    assert "data" not in entry.payload["fields"]


def test_a_photo_waits_for_what_it_shows(door: DoorUnit, kim: User) -> None:
    with pytest.raises(EntryTooEarlyError, match="has not arrived yet"):
        taken(photo_of(reading_of(door)), sender=kim)
    assert not DeviceEntry.objects.exists()


@pytest.mark.parametrize(
    ("content", "why"),
    [(b"GIF89a", "this is none"), (JPEG + bytes(PHOTO_LIMIT_BYTES), "at most 12288 kB")],
    ids=["no photo", "too large"],
)
def test_a_file_that_is_no_photo_is_refused_and_the_reading_stays(
    door: DoorUnit, kim: User, content: bytes, why: str
) -> None:
    shown = reading_of(door)
    taken(shown, sender=kim)
    assert why in taken(photo_of(shown, content), sender=kim).refusal
    assert CounterReading.objects.exists()


# --- what a phone sent in the past ---


def kept_payloads() -> list[Any]:
    """One entry of each kind and version as the phones of that version sent it."""
    entries = json.loads((HERE / "device_payloads.json").read_text())
    return [pytest.param(each, id=f"{each['kind']}-{each['version']}") for each in entries]


def test_each_kind_and_version_ever_given_out_has_a_kept_payload() -> None:
    kept = {(param.values[0]["kind"], param.values[0]["version"]) for param in kept_payloads()}
    assert kept == set(READERS)
    assert {version for _kind, version in READERS} == set(range(1, VERSION + 1))


@pytest.mark.parametrize("entry", kept_payloads())
def test_what_an_older_phone_sends_is_still_understood(
    entry: dict[str, Any], kim: User, settings: Settings, tmp_path: Path, recompute_requests: object
) -> None:
    settings.MEDIA_ROOT = tmp_path
    door = make_door(serial="D 1")
    if entry["kind"] in ("visit_open", "visit_absent"):
        make_visit(pk=1, door=door)
    else:
        visit = make_visit(pk=1, door=door, state=VisitState.OPEN, started_at=MADE)
        make_tick(visit=visit, tick=Tick.CHOCKS)
        make_tick(visit=visit, tick=Tick.CLEAR_OPENING)
    if entry["kind"] == "hand_over":
        # Whose number it was there is nobody's here.
        entry["payload"]["fields"]["to_person"] = str(make_user().pk)
    shown = reading_of(door, client_id=UUID(int=1))
    taken(shown, sender=kim)
    if entry["kind"] == "trace_take_back":
        taken(answer_of(door, 1, "N00"), sender=kim)
    kept = taken(entry, sender=kim)
    assert (kept.refusal, kept.outcome) == ("", EntryOutcome.STORED)


def test_what_a_newer_phone_sends_stays_on_it(door: DoorUnit, kim: User) -> None:
    with pytest.raises(EntryTooEarlyError, match="version 2 yet"):
        taken(reading_of(door, version=2), sender=kim)


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ({"client_id": "1"}, "the phone's own id"),
        ({"version": 0}, "a number from 1"),
        ({"version": True}, "a number from 1"),
        ({"happened_at": "yesterday"}, "“happened_at” is a moment"),
        ({"phone_now": "2026-01-01T10:00"}, "offset from UTC"),
        ({"payload": []}, "set of named values"),
    ],
    ids=lambda value: next(iter(value)) if isinstance(value, dict) else "",
)
def test_what_is_no_entry_is_refused_with_the_rule(change: dict[str, Any], why: str) -> None:
    with pytest.raises(EntryRefusedError, match=why):
        read_entry(raw(about={}) | change)


# --- the address ---


@pytest.fixture
def client(client: Client, kim: User) -> Client:
    client.force_login(kim)
    return client


def post(client: Client, entries: Any) -> Any:
    return client.post(ADDRESS, json.dumps(entries), content_type="application/json")


def test_a_refused_entry_blocks_none_behind_it(client: Client, door: DoorUnit) -> None:
    sent = [reading_of(door, "x"), {"client_id": "broken"}, reading_of(door, "77")]
    answers = post(client, sent).json()["entries"]
    assert [answer["outcome"] for answer in answers] == ["refused", "refused", "stored"]
    assert [answer["client_id"] for answer in answers] == [each["client_id"] for each in sent]
    reading = CounterReading.objects.get()
    assert answers[2]["url"] == f"/readings/{reading.pk}/"


def test_a_fault_of_the_servers_own_in_one_entry_leaves_it_on_the_phone(
    client: Client, door: DoorUnit, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(arrived: Any) -> dict[str, int]:
        raise DatabaseError("disk I/O error")

    monkeypatch.setitem(device_entries.READERS, ("fault", 1), broken)
    sent = [raw("fault", about={"door": door.serial}), reading_of(door)]
    answers = post(client, sent).json()["entries"]
    assert [answer["outcome"] for answer in answers] == ["later", "stored"]
    assert DeviceEntry.objects.get().kind == "reading"


def test_a_session_that_has_run_out_is_told_in_a_sentence(client: Client, door: DoorUnit) -> None:
    client.logout()
    for answer in (post(client, [reading_of(door)]), client.get(ADDRESS)):
        assert answer.status_code == 401
        assert "still on this phone" in answer.json()["message"]
    assert not DeviceEntry.objects.exists()


def test_a_token_is_given_anew_and_needed(door: DoorUnit, kim: User) -> None:
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(kim)
    assert post(strict, [reading_of(door)]).status_code == 403
    token = strict.get(ADDRESS).json()["csrf_token"]
    answer = strict.post(
        ADDRESS,
        json.dumps([reading_of(door)]),
        content_type="application/json",
        headers={"X-CSRFToken": token},
    )
    assert answer.json()["entries"][0]["outcome"] == "stored"


@pytest.mark.parametrize(
    ("body", "status"),
    [("nonsense", 400), ('{"a": 1}', 400), (json.dumps([{}] * 201), 400), (" " * 4194305, 413)],
    ids=["no JSON", "no list", "too many", "too large"],
)
def test_what_is_no_list_of_entries_is_refused_in_words(
    client: Client, body: str, status: int
) -> None:
    answer = client.post(ADDRESS, body, content_type="application/json")
    assert answer.status_code == status
    assert answer.json()["message"]
