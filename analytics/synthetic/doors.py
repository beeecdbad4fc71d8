"""Which doors there are: depot, model, route, days in service, and the few with a story."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from analytics.synthetic.scenario import CLASS_SHARES, Scenario

STORIES: Final = ("", "moved", "stale", "brand_new", "rolled_over")
MOVED, STALE, BRAND_NEW, ROLLED_OVER = 1, 2, 3, 4


@dataclass(frozen=True)
class DoorBlock:
    """A run of doors, arrays of shape (n,); days count from the first day of the record."""

    number: NDArray[np.int64]
    depot: NDArray[np.int64]
    model: NDArray[np.int64]
    route: NDArray[np.int64]
    start_day: NDArray[np.int64]
    end_day: NDArray[np.int64]
    age_years: NDArray[np.float64]
    hazard: NDArray[np.float64]
    story: NDArray[np.int64]

    def __len__(self) -> int:
        return len(self.number)


def make_doors(
    rng: np.random.Generator,
    *,
    number: NDArray[np.int64],
    depot: NDArray[np.int64],
    models: int,
    days: int,
    horizon: int,
    scenario: Scenario,
) -> DoorBlock:
    """Draw the doors of one block; a door not retired serves until `horizon`."""
    n = len(number)
    story = draw_stories(rng, n, scenario)
    delivered = rng.random(n) < scenario.new_door_share
    first = int(days * scenario.deliveries_from_share)
    start = np.where(delivered, rng.integers(first, days, n), 0)
    late_record = ~delivered & (rng.random(n) < 0.15)
    start = np.where(late_record, rng.integers(0, max(days // 3, 1), n), start)
    start = np.where(story == BRAND_NEW, days - 1 - rng.integers(0, min(3, days), n), start)
    start = np.where(np.isin(story, (MOVED, STALE, ROLLED_OVER)), 0, start)
    retired = (rng.random(n) < scenario.retired_share) & (story == 0)
    end = np.where(retired, rng.integers(days // 2, days, n), horizon)
    end = np.where(end > start + 60, end, horizon)
    age = rng.uniform(*scenario.opening_years, n)
    age[(story == BRAND_NEW) | delivered] = 0.0
    return DoorBlock(
        number=number,
        depot=depot,
        model=rng.integers(0, models, n),
        route=rng.choice(len(CLASS_SHARES), n, p=CLASS_SHARES),
        start_day=start.astype(np.int64),
        end_day=end.astype(np.int64),
        age_years=age,
        hazard=np.where(rng.random(n) < scenario.bad_door_share, scenario.bad_door_hazard, 1.0),
        story=story,
    )


def draw_stories(rng: np.random.Generator, n: int, scenario: Scenario) -> NDArray[np.int64]:
    """Pick distinct doors for each story, as many as its share of the block rounds to."""
    shares = {
        MOVED: scenario.moved_share,
        STALE: scenario.stale_share,
        BRAND_NEW: scenario.brand_new_share,
        ROLLED_OVER: scenario.rolled_over_share,
    }
    story = np.zeros(n, dtype=np.int64)
    order = rng.permutation(n)
    at = 0
    for code, share in shares.items():
        count = round(share * n)
        story[order[at : at + count]] = code
        at += count
    return story
