"""The time from first sign to failure, from made checks of known truth."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from analytics.kernel.delay_fit import CheckHistory, interval_that_finds, likely_delays
from analytics.kernel.inspection_interval import DelayTime, share_failing_before_look
from analytics.kernel.lifetimes import NotEstimableError


def checked(seed: int, delay: float, doors: int = 150) -> CheckHistory:
    """Defects at 1 in 20,000 cycles on doors checked at irregular gaps, each door one by one."""
    rng = np.random.default_rng(seed)
    gaps, found, tails, failed = [], [], [], []
    for _door in range(doors):
        at = np.cumsum(rng.uniform(2_000, 8_000, 9))
        begins = np.sort(rng.uniform(0, at[-1], rng.poisson(at[-1] / 20_000)))
        fails = begins + rng.exponential(delay, len(begins))
        for before, check in pairwise(at[:-1]):
            shows = (begins > before) & (begins <= check)
            gaps.append(check - before)
            found.append(float((shows & (fails > check)).sum()))
            failed += (fails[shows & (fails <= check)] - before).tolist()
        tails.append(at[-1] - at[-2])
        late = (begins > at[-2]) & (fails <= at[-1])
        failed += (fails[late] - at[-2]).tolist()
    return CheckHistory(np.array(gaps), np.array(found), np.array(tails), np.array(failed))


@pytest.mark.parametrize("delay", [1_500.0, 6_000.0, 25_000.0])
def test_the_true_delay_lies_in_the_range_nine_times_in_ten(delay: float) -> None:
    inside, middles = 0, []
    for seed in range(40):
        low, middle, high = likely_delays(checked(seed, delay)).quantiles([0.05, 0.5, 0.95])
        inside += low <= delay <= high
        middles.append(middle)
    assert 31 <= inside <= 40
    assert np.median(middles) == pytest.approx(delay, rel=0.12)


@pytest.mark.parametrize("delay", [1_500.0, 25_000.0])
def test_the_rate_of_defects_is_the_true_one(delay: float) -> None:
    """Whether they were found or failed first, as many arise."""
    rates = []
    for seed in range(20):
        likely = likely_delays(checked(seed, delay))
        rates += likely.defects_at(likely.quantiles([0.5]))
    assert np.mean(rates) == pytest.approx(1 / 20_000, rel=0.06)


@pytest.mark.parametrize("share", [0.5, 0.8, 0.9, 0.99])
def test_the_interval_finds_the_share_that_was_wanted(share: float) -> None:
    """Against a plain simulation: defects begin evenly between two checks."""
    interval = interval_that_finds(share, 3_000.0)
    failing = float(share_failing_before_look(interval, DelayTime(1.0, 1.0, 3_000.0)))
    assert 1 - failing == pytest.approx(share, abs=1e-9)
    rng = np.random.default_rng(3)
    left = interval - rng.uniform(0, interval, 200_000)
    assert float((rng.exponential(3_000.0, 200_000) > left).mean()) == pytest.approx(
        share, abs=0.01
    )


@pytest.mark.parametrize(("found", "failed"), [([0.0], [500.0]), ([2.0], [])])
def test_one_side_alone_gives_no_delay(found: list[float], failed: list[float]) -> None:
    history = CheckHistory(
        np.array([5_000.0]), np.array(found), np.array([100.0]), np.array(failed)
    )
    with pytest.raises(NotEstimableError, match="needs defects found"):
        likely_delays(history)


@pytest.mark.parametrize(("share", "delay"), [(0.0, 10.0), (1.0, 10.0), (0.5, 0.0)])
def test_nonsense_is_refused(share: float, delay: float) -> None:
    with pytest.raises(ValueError, match=r"share wanted|delay must"):
        interval_that_finds(share, delay)
