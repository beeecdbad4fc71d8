import numpy as np
import pytest

from analytics.kernel.mcbf import NO_CYCLES, NO_FAILURES, estimate_mcbf


def test_each_group_gets_the_bound_its_failures_allow():
    found = estimate_mcbf([1000.0, 1000.0, 0.0], [4, 0, 0])
    assert found.bound.tolist() == ["two-sided", "lower-only", "none"]
    assert found.reason.tolist() == ["", NO_FAILURES, NO_CYCLES]
    assert np.isfinite(found.mcbf_cycles).tolist() == [True, False, False]
    assert np.isfinite(found.lower_cycles).tolist() == [True, True, False]
    assert np.isfinite(found.upper_cycles).tolist() == [True, False, False]


def test_failures_without_cycles_give_no_figure():
    found = estimate_mcbf(0.0, 3)
    assert found.bound[0] == "none"
    assert np.isnan([found.mcbf_cycles[0], found.lower_cycles[0], found.upper_cycles[0]]).all()


def test_bounds_are_the_ends_of_the_poisson_test():
    """At the lower bound so many failures or fewer have chance a/2 on the far side."""
    cycles, failures = 90_000.0, 7
    found = estimate_mcbf(cycles, failures, 0.9)
    k = np.arange(failures + 1)
    logs = np.concatenate([[0.0], np.cumsum(np.log(np.arange(1, failures + 1)))])

    def at_most(mean, terms):
        return np.exp(-mean + k[:terms] * np.log(mean) - logs[:terms]).sum()

    assert at_most(cycles / found.lower_cycles[0], failures + 1) == pytest.approx(0.05)
    assert 1 - at_most(cycles / found.upper_cycles[0], failures) == pytest.approx(0.05)


@pytest.mark.parametrize("expected", [0.5, 2.0, 8.0])
def test_bounds_hold_at_least_what_they_say(expected):
    rng = np.random.default_rng(20)
    failures = rng.poisson(expected, 20_000)
    found = estimate_mcbf(np.full(20_000, expected * 1000.0), failures, 0.9)
    upper = np.where(np.isnan(found.upper_cycles), np.inf, found.upper_cycles)
    assert ((found.lower_cycles <= 1000) & (upper >= 1000)).mean() >= 0.9


@pytest.mark.parametrize(
    ("cycles", "failures", "confidence", "message"),
    [
        (1.0, 1, 1.0, "confidence must lie between 0 and 1, got 1"),
        (-5.0, 1, 0.9, "cycles must be finite and not negative, got -5"),
        (np.nan, 1, 0.9, "cycles must be finite and not negative, got nan"),
        (5.0, -1, 0.9, "failures must be a whole number, 0 or more, got -1"),
        (5.0, 1.5, 0.9, "failures must be a whole number, 0 or more, got 1.5"),
        ([5.0, 6.0], [1], 0.9, r"\(2,\) cycles do not match \(1,\) failures"),
    ],
)
def test_wrong_input_is_named(cycles, failures, confidence, message):
    with pytest.raises(ValueError, match=message):
        estimate_mcbf(cycles, failures, confidence)
