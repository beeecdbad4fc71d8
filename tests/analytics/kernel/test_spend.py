"""Money for parts: against sums of simulated counts, and what must hold of any range."""

from __future__ import annotations

import numpy as np
import pytest

from analytics.kernel.spend import spend_of


def test_the_range_holds_eight_futures_in_ten_where_depots_share_an_unknown_level() -> None:
    # Simulated apart from the formula: one gamma level for both depots of a part, Poisson counts.
    rng = np.random.default_rng(5)
    mean, cost, share = np.array([30.0, 12.0, 200.0]), np.array([180.0, 180.0, 2.0]), 0.04
    level = rng.gamma(1 / share, share, (20_000, 2))[:, [0, 0, 1]]
    money = rng.poisson(level * mean) @ cost
    found = spend_of(mean, mean + share * mean**2, cost, [1, 1, 2])
    held = np.mean((money >= found.lower) & (money <= found.upper))
    assert found.mean == pytest.approx(money.mean(), rel=0.01)
    assert held == pytest.approx(0.80, abs=0.015)


def test_levels_that_move_together_widen_the_range() -> None:
    facts = ([30.0, 30.0], [120.0, 120.0], [10.0, 10.0])
    alone, together = spend_of(*facts, [1, 2]), spend_of(*facts, [1, 1])
    assert alone.mean == together.mean
    assert together.upper - together.lower > 1.2 * (alone.upper - alone.lower)


def test_nothing_expected_costs_nothing() -> None:
    found = spend_of([0.0, 0.0], [0.0, 0.0], [3.0, 4.0], [1, 2])
    assert (found.mean, found.lower, found.upper) == (0.0, 0.0, 0.0)
    assert spend_of([], [], [], []).mean == 0.0


@pytest.mark.parametrize(
    ("facts", "rule"),
    [
        (([-1.0], [1.0], [1.0], [0]), "mean must be 0 or more and finite, got -1"),
        (([1.0], [-2.0], [1.0], [0]), "variance must be 0 or more and finite, got -2"),
        (([1.0], [1.0], [np.inf], [0]), "unit_cost must be 0 or more and finite"),
    ],
)
def test_what_cannot_be_is_refused(facts: tuple[list[float], ...], rule: str) -> None:
    with pytest.raises(ValueError, match=rule):
        spend_of(*facts)
    with pytest.raises(ValueError, match="coverage must lie between 0 and 1, got 1"):
        spend_of([1.0], [1.0], [1.0], [0], coverage=1.0)
