"""Two years of ordering as the program says: the service reached, and against past use alone."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np

from analytics.kernel.stock import REVIEW_DAYS, LeadDemand, lead_demand, lead_time_distribution
from analytics.proof.claim import Claim, Effort, Floats
from analytics.proof.demand_world import WEEK, ComponentLives, daily_failures, lives_of
from analytics.proof.made_fleet import Followed, Ints, MadeFleet, follow, make_fleet
from analytics.proof.need_by_depot import LAST_KNOT, Ahead, needs_ahead
from analytics.proof.past_use import WAYS, PastUse, past_use
from analytics.proof.shelves import Kept, Levels, Years, run_shelves
from analytics.synthetic.fleet import FleetPlan

GROUP = "buying"
WORLDS = ("steady", "wear_out", "unknown_ages", "growth")
# Where the past does not show what comes, more of what is asked for must be there, not as much.
AHEAD_OF_PAST = {"wear_out", "growth"}
COMPONENTS = ("converter", "coil_cable", "roller")
DOORS, FEWEST_DOORS = 2_400, 1_200
SETTLING_WEEKS, WEEKS, WEEKS_BEFORE = 13, 104, 52
RECORD_DAYS = (SETTLING_WEEKS + WEEKS) * WEEK
DAYS, FUTURE_DAYS = 2 * RECORD_DAYS, 14
# How use was known is worked out anew so often; within, later readings judge earlier ones.
FOLLOW_DAYS = 410
# A supplier keeps to one lead time for so long: orders then hardly overtake each other, which
# would make every policy look better.
LEAD_DAYS, LEAD_VARIATION, LEAD_KEPT_DAYS, RECEIPTS_BEFORE = 63.0, 0.35, 28, 12
# The whole fleet from one store, with lead times of its own each time.
ONE_STORE = 8
TARGETS = np.array([0.95, 0.90, 0.98])
WITHIN = 0.02
# Beside those levels: what a look a week makes of the first, and past use with its safety stock
# (what a level holds beyond expected need) so many times as large.
ONCE_A_WEEK = len(TARGETS)
SAFETY = np.array([0.3, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.4, 1.7, 2.1, 2.6])
LOOK_DAYS = np.array([*(1 for _ in TARGETS), WEEK, *(1 for _ in range(len(WAYS) * len(SAFETY)))])


@dataclass(frozen=True, eq=False)
class Bought:
    """Two years of one component: what the shelves kept, and which weeks' levels were enough.

    `enough`, `weeks` (stores,): beginnings of weeks of which the need over the lead time that an
    order would then have had stayed within the reorder point for 95 %, and all of them.
    """

    kept: Kept
    enough: Ints
    weeks: Ints
    depots: int

    def depots_alone(self) -> slice:
        """The stores that are a depot each."""
        return slice(0, self.depots)

    def one_store(self) -> slice:
        """The stores that serve the whole fleet."""
        return slice(self.depots, None)


def claims(effort: Effort) -> list[Claim]:
    """Service and fill rate in each world, for each depot's shelf and for one store."""
    doors, components = effort.runs(DOORS, FEWEST_DOORS), COMPONENTS[: effort.runs(3)]
    found = []
    for world in WORLDS:
        seeds = range(131, 131 + effort.runs(2))
        bought = [each for seed in seeds for each in buy_for(world, seed, doors, components)]
        depots, store = (_reached(bought, one_store=one) for one in (False, True))
        found += [*_at_depots(world, depots), *_from_one_store(world, store)]
        # One component from one store is a single path of need: too little to rank methods by.
        if components == COMPONENTS:
            found.append(_fill(world, store, "from one store"))
    return found


def buy_for(world: str, seed: int, doors: int, components: tuple[str, ...]) -> list[Bought]:
    """Make one fleet and buy each of its components for the second half of its record."""
    plan = FleetPlan(doors, DAYS, seed, world, readings_per_door=DAYS / 20, future_days=FUTURE_DAYS)
    fleet = make_fleet(plan)
    known: dict[int, Followed] = {}

    def followed_by(day: int) -> Followed:
        until = min((day // FOLLOW_DAYS + 1) * FOLLOW_DAYS, DAYS)
        if until not in known:
            known[until] = follow(fleet, until)
        return known[until]

    weeks = SETTLING_WEEKS + WEEKS
    found = []
    for component in components:
        lives = lives_of(fleet, component)
        ahead = needs_ahead(fleet, lives, followed_by, first=RECORD_DAYS, weeks=weeks)
        found.append(_buy(fleet, lives, ahead, np.random.default_rng([seed, len(component)])))
    return found


def _buy(
    fleet: MadeFleet, lives: ComponentLives, ahead: list[Ahead], rng: np.random.Generator
) -> Bought:
    before, weeks = WEEKS_BEFORE * WEEK, len(ahead)
    by_depot = daily_failures(
        fleet, lives, first_day=RECORD_DAYS - before, days=before + weeks * WEEK
    )
    taken = np.concatenate((by_depot, np.tile(by_depot.sum(axis=0), (ONE_STORE, 1))))
    use = past_use(taken.reshape(len(taken), -1, WEEK).sum(axis=2).astype(float), WEEKS_BEFORE)
    years = Years(taken[:, before:], _lead_days(rng, len(taken), weeks), SETTLING_WEEKS * WEEK)
    receipts_before = _drawn(rng, (RECEIPTS_BEFORE,)).tolist()
    points = np.zeros((len(taken), weeks), np.int64)

    def levels_of(week: int, receipts: list[int]) -> Levels:
        lead = lead_time_distribution([*receipts_before, *receipts], LEAD_DAYS)
        own = lead_demand(partial(_own, ahead[week]), lead, REVIEW_DAYS)
        past = lead_demand(partial(_past, use, week), lead, REVIEW_DAYS)
        found = _levels(own, past)
        points[:, week] = found.reorder_point[0]
        return found

    kept = run_shelves(years, levels_of, LOOK_DAYS)
    enough, weeks_looked_at = _enough(years, points)
    return Bought(kept, enough, weeks_looked_at, len(by_depot))


def _own(ahead: Ahead, days: Floats) -> tuple[Floats, Floats]:
    """Each depot's need, and the fleet's once for each store that serves it."""
    rows = np.append(np.arange(len(ahead.mean)), np.full(ONE_STORE - 1, len(ahead.mean) - 1))
    mean, variance = ahead.over_days(np.minimum(days, LAST_KNOT))
    return mean[rows], variance[rows]


def _past(use: PastUse, week: int, days: Floats) -> tuple[Floats, Floats]:
    return use.over_days(week, days)


def _drawn(rng: np.random.Generator, shape: tuple[int, ...]) -> Ints:
    """Lead times in whole days."""
    form = 1 / LEAD_VARIATION**2
    return np.maximum(np.rint(rng.gamma(form, LEAD_DAYS / form, shape)), 1).astype(np.int64)


def _lead_days(rng: np.random.Generator, stores: int, weeks: int) -> Ints:
    """How long an order placed on each day takes to come, (stores, days)."""
    days = weeks * WEEK
    drawn = _drawn(rng, (stores, -(-days // LEAD_KEPT_DAYS)))
    return np.repeat(drawn, LEAD_KEPT_DAYS, axis=1)[:, :days]


def _levels(own: LeadDemand, past: LeadDemand) -> Levels:
    """Levels by policy and store, from demand (stores, lead times) and (ways, stores, ...)."""
    targets = TARGETS[:, None]
    expected = (each.mean @ past.probability for each in (past.over_lead, past.protected))
    return Levels(
        _by_policy(own.reorder_point(targets), past.reorder_point(TARGETS[0]), next(expected)),
        _by_policy(own.order_up_to(targets), past.order_up_to(TARGETS[0]), next(expected)),
    )


def _by_policy(own: Ints, past: Ints, expected: Floats) -> Ints:
    """The program's for each target, the first once more, and past use with more or less safety."""
    scaled = expected[:, None] + (past - expected)[:, None] * SAFETY[:, None]
    others = np.maximum(np.rint(scaled), 0).astype(np.int64)
    return np.concatenate((own, own[:1], others.reshape(-1, own.shape[1])))


def _enough(years: Years, points: Ints) -> tuple[Ints, Ints]:
    """By store: weeks whose need over the lead time stayed within the point, and all weeks."""
    first = np.arange(SETTLING_WEEKS, points.shape[1]) * WEEK
    until = first + years.lead_days[:, first]
    total = np.concatenate((np.zeros((len(points), 1), np.int64), years.wanted.cumsum(axis=1)), 1)
    over = until <= years.wanted.shape[1]
    need = np.take_along_axis(total, np.where(over, until, 0), axis=1) - total[:, first]
    return (over & (need <= points[:, SETTLING_WEEKS:])).sum(axis=1), over.sum(axis=1)


@dataclass(frozen=True, eq=False)
class _Reached:
    """By policy, (policies,): cycles without shortage, share given at once, mean pieces there."""

    service: Floats
    fill: Floats
    stock: Floats
    enough: float


def _reached(bought: list[Bought], one_store: bool) -> _Reached:
    sums = np.zeros((5, len(LOOK_DAYS)))
    enough = np.zeros(2)
    for each in bought:
        cut = each.one_store() if one_store else each.depots_alone()
        kept = each.kept
        columns = (kept.in_time, kept.cycles, kept.given, kept.wanted, kept.stock)
        sums += np.stack([column[:, cut].sum(axis=1) for column in columns])
        enough += each.enough[cut].sum(), each.weeks[cut].sum()
    in_time, cycles, given, wanted, stock = sums
    return _Reached(in_time / cycles, given / wanted, stock, float(enough[0] / enough[1]))


def _at_depots(world: str, reached: _Reached) -> list[Claim]:
    """Each depot with a shelf of its own."""
    services = [
        _service(world, target, reached.service[k], "at depots")
        for k, target in enumerate(TARGETS.tolist())
    ]
    weekly = _service(
        world, float(TARGETS[0]), reached.service[ONCE_A_WEEK], "at depots, one look a week"
    )
    enough = _enough_claim(world, reached, "at depots")
    return [*services, weekly, enough, _fill(world, reached, "at depots")]


def _from_one_store(world: str, reached: _Reached) -> list[Claim]:
    """The whole fleet served from one store."""
    return [
        _service(world, float(TARGETS[0]), reached.service[0], "from one store"),
        _enough_claim(world, reached, "from one store"),
    ]


def _service(world: str, wanted: float, measured: float, where: str) -> Claim:
    return Claim(
        GROUP,
        f"cycles without shortage, {wanted:.0%} wanted, {where}: {_name(world)}",
        float(measured),
        lowest=wanted - WITHIN,
    )


def _enough_claim(world: str, reached: _Reached, where: str) -> Claim:
    return Claim(
        GROUP,
        f"need over a lead time within its 95 % level, {where}: {_name(world)}",
        reached.enough,
        lowest=0.90,
    )


def _fill(world: str, reached: _Reached, where: str) -> Claim:
    """Fill rate, to be no lower than past use at its best with as much stock on the average."""
    first, many = ONCE_A_WEEK + 1, len(SAFETY)
    ways = [slice(first + k * many, first + (k + 1) * many) for k in range(len(WAYS))]
    # Outside what was tried there is no comparison, and the claim does not hold.
    fills = [
        float(np.interp(reached.stock[0], reached.stock[at], reached.fill[at], np.nan, np.nan))
        for at in ways
    ]
    best = int(np.argmax(fills))
    least = fills[best]
    return Claim(
        GROUP,
        f"fill rate, {WAYS[best]} with equal stock to beat, {where}: {_name(world)}",
        float(reached.fill[0]),
        lowest=float(np.nextafter(least, 1.0)) if world in AHEAD_OF_PAST else least,
    )


def _name(world: str) -> str:
    return world.replace("_", " ")
