"""Two years of buying: the claims world by world, and the shelves against a plain reckoning."""

from __future__ import annotations

import sys

import numpy as np
import pytest

from analytics.kernel.demand_history import flat_year_demand, tsb
from analytics.kernel.stock import (
    REVIEW_DAYS,
    lead_demand,
    lead_time_distribution,
    stock_levels,
    suggest_order,
)
from analytics.proof import buying
from analytics.proof.claim import QUICK
from analytics.proof.groups import table
from analytics.proof.past_use import ALPHA, WAYS, past_use
from analytics.proof.shelves import Levels, Years, run_shelves


@pytest.mark.parametrize("world", buying.WORLDS)
def test_what_is_ordered_keeps_the_service_wanted(
    world: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Goals: service at most 2 points short, fill rate no lower than past use with equal stock."""
    monkeypatch.setattr(buying, "WORLDS", (world,))
    found = buying.claims(QUICK)
    with capsys.disabled():
        sys.stdout.write("\n" + "\n".join(table(found)) + "\n")
    assert len(found) == 8
    assert [claim for claim in found if not claim.holds] == []


def by_hand(wanted: list[int], lead: list[int], point: int, top: int, *, look: int, skip: int):
    """One shelf, one day after another: given, cycles, in time, mean stock."""
    on_hand, owed, coming = point, 0, []
    given, cycles, in_time, stock = 0, 0, 0, []
    for day, asked in enumerate(wanted):
        came = sum(pieces for due, pieces in coming if due == day)
        coming = [each for each in coming if each[0] != day]
        if came and day >= skip:
            cycles += 1
            in_time += owed == 0
        paid = min(came, owed)
        on_hand, owed = on_hand + came - paid, owed - paid
        now = min(asked, on_hand)
        on_hand, owed = on_hand - now, owed + asked - now
        if day >= skip:
            given += now
            stock.append(on_hand)
        position = on_hand + sum(pieces for _, pieces in coming) - owed
        if day % look == 0:
            order = int(suggest_order(position, point, top))
            if order:
                coming.append((day + 1 + lead[day], order))
    return given, cycles, in_time, float(np.mean(stock))


@pytest.mark.parametrize("seed", range(3))
def test_shelves_agree_with_a_plain_reckoning(seed: int) -> None:
    rng = np.random.default_rng(seed)
    wanted = rng.poisson([[0.1], [0.6], [2.0]], (3, 400))
    lead = rng.integers(1, 60, (3, 400))
    point = np.array([[1, 8, 30], [4, 20, 70]])
    top, look = point + np.array([0, 3, 12]), np.array([1, 7])
    found = run_shelves(Years(wanted, lead, 91), lambda week, receipts: Levels(point, top), look)
    for policy in range(2):
        for shelf in range(3):
            given, cycles, in_time, stock = by_hand(
                wanted[shelf].tolist(),
                lead[shelf].tolist(),
                int(point[policy, shelf]),
                int(top[policy, shelf]),
                look=int(look[policy]),
                skip=91,
            )
            assert found.given[policy, shelf] == given
            assert (found.cycles[policy, shelf], found.in_time[policy, shelf]) == (cycles, in_time)
            assert found.stock[policy, shelf] == pytest.approx(stock)
            assert found.wanted[policy, shelf] == wanted[shelf, 91:].sum()


def test_lead_times_are_told_when_the_first_policy_receives() -> None:
    told: list[list[int]] = []

    def levels_of(week: int, receipts: list[int]) -> Levels:
        told.append(list(receipts))
        return Levels(np.array([[2], [9]]), np.array([[4], [9]]))

    wanted = np.zeros((1, 28), np.int64)
    wanted[0, 9] = 1
    run_shelves(Years(wanted, np.full((1, 28), 5), 0), levels_of, np.array([1, 1]))
    # Ordered on the first evening, for it begins at its point, and there on the sixth morning.
    assert told == [[], [], [5], [5], [5]]


def test_the_levels_are_the_program_s_own() -> None:
    rates = np.array([0.02, 0.4, 2.5])
    lead = lead_time_distribution([50, 70, 61, 66, 80, 49, 58, 73], 63.0)

    def demand(days):
        return rates[:, None] * days, 1.4 * rates[:, None] * days

    def past(days):
        mean, variance = demand(days)
        return np.tile(mean, (len(WAYS), 1, 1)), np.tile(variance, (len(WAYS), 1, 1))

    found = buying._levels(
        lead_demand(demand, lead, REVIEW_DAYS), lead_demand(past, lead, REVIEW_DAYS)
    )
    assert found.reorder_point.shape == (len(buying.LOOK_DAYS), 3)
    for row, target in [*enumerate(buying.TARGETS.tolist()), (buying.ONCE_A_WEEK, 0.95)]:
        for shelf, rate in enumerate(rates.tolist()):
            alone = stock_levels(lambda d, r=rate: (r * d, 1.4 * r * d), lead, REVIEW_DAYS, target)
            assert found.reorder_point[row, shelf] == alone.reorder_point
            assert found.order_up_to[row, shelf] == alone.order_up_to
    # Past use that foresees the same, with its safety stock as it is, has the same levels.
    same = buying.ONCE_A_WEEK + 1 + buying.SAFETY.tolist().index(1.0)
    assert (found.reorder_point[same] == found.reorder_point[0]).all()


def test_past_use_knows_nothing_of_later_weeks() -> None:
    rng = np.random.default_rng(4)
    weekly = rng.poisson(0.7, (5, 80)).astype(float)
    whole, cut = past_use(weekly, 52), past_use(weekly[:, :60], 52)
    assert whole.level[:, :, :8] == pytest.approx(cut.level)
    assert whole.spread[:, :8] == pytest.approx(cut.spread)
    flat = flat_year_demand(weekly[:, :55], [9.0])
    mean, variance = whole.over_days(3, np.array([63.0]))
    assert mean[0, :, 0] == pytest.approx(flat.mean[:, 0])
    assert variance[0, :, 0] == pytest.approx(flat.variance[:, 0])
    assert whole.level[WAYS.index("TSB"), :, 3] == pytest.approx(
        np.maximum(tsb(weekly[:, :55], ALPHA, ALPHA)[:, -1], 0.01)
    )
