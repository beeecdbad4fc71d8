"""Units that are read and typed, against the published factors; the record stays metric."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleetdoors.measures import System, in_words, scale_of, scales_of
from fleetdoors.templatetags.units import as_typed, figure, measured, unit_shown
from fleetdoors.units_in_use import system_in_use, units

# NIST Special Publication 811 (2008), appendix B.8, from memory: exact factors.
NIST = [
    ("mm", "in", 25.4),
    ("m", "ft", 0.3048),
    ("N", "lbf", 4.448_221_615_260_5),
]
# The same source: t/°C = (t/°F - 32)/1.8.
FIXED_POINTS = [(32.0, 0.0), (212.0, 100.0), (-40.0, -40.0), (68.0, 20.0)]


@pytest.mark.parametrize(("kept", "shown", "factor"), NIST)
def test_one_of_each_is_what_is_published(kept: str, shown: str, factor: float) -> None:
    scale = scale_of(kept, System.INCH)
    assert scale.unit == shown
    assert scale.kept(1.0) == pytest.approx(factor, rel=1e-15)
    assert scale.shown(factor) == pytest.approx(1.0, rel=1e-15)


def test_a_pound_force_is_a_pound_under_standard_gravity() -> None:
    assert scale_of("N", System.INCH).kept(1.0) == pytest.approx(0.453_592_37 * 9.806_65, rel=1e-14)


@pytest.mark.parametrize(("fahrenheit", "celsius"), FIXED_POINTS)
def test_temperatures_meet_at_the_known_points(fahrenheit: float, celsius: float) -> None:
    scale = scale_of("°C", System.INCH)
    assert scale.kept(fahrenheit) == pytest.approx(celsius, abs=1e-12)
    assert scale.shown(celsius) == pytest.approx(fahrenheit, abs=1e-12)


@pytest.mark.parametrize("unit", ["V", "A", "Ω", "s", ""])
def test_what_is_the_same_everywhere_stays(unit: str) -> None:
    assert scale_of(unit, System.INCH) == scale_of(unit, System.METRIC)
    assert scale_of(unit, System.INCH).shown(12.6) == 12.6


@given(st.floats(-4_000, 4_000), st.sampled_from(sorted(scales_of(System.INCH))))
def test_there_and_back_nothing_is_lost(value: float, unit: str) -> None:
    scale = scale_of(unit, System.INCH)
    assert scale.shown(scale.kept(value)) == pytest.approx(value, rel=1e-12, abs=1e-9)


def test_arrays_are_shown_whole_with_what_is_missing() -> None:
    shown = scale_of("mm", System.INCH).shown(np.array([25.4, np.nan]))
    assert shown[0] == 1.0
    assert np.isnan(shown[1])


def test_words_follow_the_units_in_use_and_no_longer() -> None:
    assert measured(150, "mm") == "150 mm"
    with units(System.INCH):
        assert measured(150, "mm") == "5.91 in"
        assert measured(100, "N") == "22.5 lbf"
        assert measured(20, "°C") == "68 °F"
        assert measured(12.64, "V", 1) == "12.6 V"
        assert (figure(None, "mm"), unit_shown("mm")) == ("–", "in")
        assert as_typed(-150, "mm") == "-5.91"
    assert system_in_use() == System.METRIC
    assert as_typed(150.5, "mm") == "150.5"


@pytest.mark.parametrize(
    ("text", "turned"),
    [
        ("off once raised 25 to 50 mm?", "off once raised 0.98 to 1.97 in?"),
        ("entre 25 y 50 mm", "entre 0.98 y 1.97 in"),
        ("Drift at half open: -203.2 mm", "Drift at half open: -8.00 in"),
        ("pull: 100 N, at 20 °C", "pull: 22.5 lbf, at 68 °F"),
        ("play within 3 mm, 0.2 V, 10 s", "play within 0.12 in, 0.2 V, 10 s"),
        ("31 to 33 V; N50, S8, 5 m, 9 N·m, 25 mm2", "31 to 33 V; N50, S8, 5 m, 9 N·m, 25 mm2"),
    ],
)
def test_measures_in_a_text_are_turned_and_nothing_else(text: str, turned: str) -> None:
    assert in_words(text, System.INCH) == turned
    assert in_words(text, System.METRIC) == text
