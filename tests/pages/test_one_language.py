"""Every page in Spanish: no English sentence is left in what the program says."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from django.test import Client
from django.utils import translation

from inspections.models import Fault, FollowUp, Measurement, RoadHold
from tests.access_factories import make_depot_world, make_shared_objects
from tests.pages.everybody import clients_of_everybody, runs_of
from tests.pages.planner_rows import make_run
from tests.sheet.pages import samples

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("stopped_clock")]
ENGLISH = re.compile(
    r".{0,40}\b(?:the|and|of|is|are|not|from|with|for|was|this|when|that|has)\b.{0,40}", re.I
)
# The description of the interface for programs is read by who writes them, beside English keys.
FOR_PROGRAMMERS = {"api-page"}
# Typed by a person in the rows of the test.
TYPED = (
    "Head of the shop",
    "Whether the plug behind the box is tight.",
    "seen at the door",
)
# What the program wrote on record while somebody worked in English.
KEPT = "Spring whole, no gap between coils: not as it should be"
LIMIT = "1.6 times this door's own value when new, 11"


@pytest.fixture(autouse=True)
def english_again() -> Iterator[None]:
    """A request leaves its language to the thread: what follows is asked in English."""
    yield
    translation.deactivate()


@pytest.fixture
def clients() -> dict[str | None, Client]:
    return clients_of_everybody(**{"accept-language": "es"})


def test_no_page_in_spanish_says_an_english_sentence(clients: dict[str | None, Client]) -> None:
    make_depot_world(mark="LIMA", run=make_run())
    make_shared_objects()
    Fault.objects.update(note=KEPT)
    FollowUp.objects.update(because=KEPT)
    RoadHold.objects.update(detail=KEPT)
    Measurement.objects.update(limit_source=LIMIT)
    left, opened, said = [], 0, set()
    for sample in samples()[0]:
        answer = clients[sample.person].get(sample.url)
        if answer.status_code != 200 or not answer["Content-Type"].startswith("text/html"):
            continue
        if sample.name in FOR_PROGRAMMERS:
            continue
        opened += 1
        for run in runs_of(answer.content.decode()):
            if not any(typed in run for typed in TYPED):
                left += [(sample.name, found.group()) for found in ENGLISH.finditer(run)]
            if "Resorte entero" in run:
                said.add(sample.name)
    assert opened > 90
    assert not left, "\n".join(map(str, left))
    assert {"truck-record", "fault-detail", "hold-lift", "follow-up-drop"} <= said
