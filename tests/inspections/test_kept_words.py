"""Sentences that the program keeps on record, said anew for whoever reads them."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path

import pytest
from babel.messages.extract import extract
from django.utils import translation

from fleetdoors.measures import System
from fleetdoors.units_in_use import units
from inspections import limits
from inspections.kept_words import SENTENCES, as_read
from inspections.limits import Circumstances, DoorFigures, limits_for
from inspections.quantities import QUANTITIES

FOUND = Circumstances(
    values={"converter_running": 31.9, "board_output": 31.5},
    baselines={
        "motor_amps": 11.0,
        "travel_open_seconds": 8.5,
        "travel_close_seconds": 8.9,
        "board_output": 31.8,
        "motor_end": 30.9,
    },
    amps=12.0,
    baseline_amps=11.0,
)


def test_every_source_of_a_limit_is_among_the_sentences() -> None:
    code = BytesIO(Path(limits.__file__).read_bytes())
    marked = {message for _line, message, _notes, _context in extract("python", code, {"_": None})}
    assert marked <= set(SENTENCES)


@pytest.mark.parametrize("written", ["en", "es"])
@pytest.mark.parametrize("read", ["en", "es"])
@pytest.mark.parametrize("code", sorted(QUANTITIES))
def test_the_source_of_a_limit_reads_as_if_it_were_written_now(
    code: str, written: str, read: str
) -> None:
    door = DoorFigures("FD-1", cable_awg=14, cable_metres=6.5)
    with translation.override(written):
        kept = limits_for(code, door, FOUND).source
    with translation.override(read):
        assert as_read(kept) == limits_for(code, door, FOUND).source


def test_a_finding_is_said_in_the_language_and_units_of_the_reader() -> None:
    with translation.override("es"):
        kept = "Spring whole, no gap between coils: not as it should be"
        assert as_read(kept) == (
            "Resorte entero, sin separación entre espiras: no está como debe estar"
        )
    with units(System.INCH):
        kept = "Greatest pull along the travel: 180 N"
        assert as_read(kept) == "Greatest pull along the travel: 40.5 lbf"


@pytest.mark.parametrize(
    "typed", ["the spring is gone", "yes", "Spring: the left one", "kits are in the van", ""]
)
def test_what_a_person_typed_stays_as_typed(typed: str) -> None:
    with translation.override("es"):
        assert as_read(typed) == typed


def test_measures_in_what_a_person_typed_are_turned() -> None:
    with units(System.INCH):
        assert as_read("gap of 25 mm left") == "gap of 0.98 in left"
