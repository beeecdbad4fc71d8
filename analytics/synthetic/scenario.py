"""The worlds a fleet can be made in: true component lives, use, and what goes wrong."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import inf
from typing import Final


@dataclass(frozen=True)
class Socket:
    """Positions of one component that are renewed together, with their true Weibull life."""

    component: str
    positions: tuple[str, ...]
    shape: float
    scale_cycles: float
    preventive_at_cycles: float = inf


SOCKETS: Final = (
    Socket("converter", ("",), 1.4, 45_000),
    Socket("fuse", ("",), 1.0, 60_000),
    Socket("control_board", ("",), 1.1, 120_000),
    Socket("coil_cable", ("",), 2.5, 30_000),
    Socket("motor", ("left",), 2.0, 70_000),
    Socket("motor", ("right",), 2.0, 70_000),
    Socket("closed_sensor", ("",), 1.0, 50_000),
    Socket("spring", ("left", "right"), 3.0, 25_000, preventive_at_cycles=18_000),
    Socket("roller", ("",), 2.2, 40_000),
    Socket("switch", ("",), 0.9, 40_000),
)

FUSE_TAKEN_ALONG: Final = {"converter": 0.4, "coil_cable": 0.25}
"""Chance that a change of this component renews a sound fuse in the same job."""


@dataclass(frozen=True)
class RouteClass:
    """A kind of route: its median use and how it spreads over doors, weekdays and the year."""

    name: str
    median_cycles_per_day: float
    log_sd: float
    weekdays: tuple[float, ...]
    season_peak_day: int


ROUTE_CLASSES: Final = (
    RouteClass("parcel", 62, 0.40, (1.30, 1.30, 1.25, 1.25, 1.30, 0.50, 0.10), 350),
    RouteClass("linen", 34, 0.45, (1.45, 1.35, 1.35, 1.35, 1.40, 0.10, 0.00), 195),
    RouteClass("retail", 14, 0.55, (1.05, 1.00, 1.05, 1.10, 1.35, 1.10, 0.35), 340),
    RouteClass("furniture", 22, 0.50, (0.70, 1.20, 1.20, 1.25, 1.35, 1.30, 0.00), 130),
)
CLASS_SHARES: Final = (0.35, 0.30, 0.20, 0.15)


@dataclass(frozen=True)
class Bundle:
    """Tasks done in one visit, every so many visits."""

    tasks: tuple[str, ...]
    every_visits: int


QUARTER_TASKS: Final = ("REV", "LUB", "LFT", "COI", "REL", "CTR")
HALF_TASKS: Final = ("BAL", "SEN", "FAS", "SEA", "ELE")
FULL_PROGRAMME: Final = (
    Bundle(QUARTER_TASKS, 1),
    Bundle(HALF_TASKS, 2),
    Bundle(("RBT", "ANN"), 4),
)
LEAN_PROGRAMME: Final = (Bundle(("REV", "LUB", "COI"), 1), Bundle(("BAL",), 2))


@dataclass(frozen=True)
class Scenario:
    """One world: everything that may differ between two made fleets apart from chance."""

    name: str
    summary: str
    sockets: tuple[Socket, ...] = SOCKETS
    route_changes_per_year: float = 0.5
    season_amplitude: float = 0.10
    jump_at_share: float = 0.75
    jump_factor: float = 1.0
    unknown_age_share: float = 0.15
    new_door_share: float = 0.15
    deliveries_from_share: float = 0.0
    opening_years: tuple[float, float] = (0.3, 5.0)
    retired_share: float = 0.01
    revision_from_share: float = 1.0
    revision_component: str = "converter"
    revision_hazard: float = 2.0
    shocks_per_depot_year: float = 1.0
    shock_share: float = 0.05
    bad_door_share: float = 0.03
    bad_door_hazard: float = 4.0
    counter_fault_scale: float = 1.0
    moved_share: float = 0.004
    stale_share: float = 0.008
    brand_new_share: float = 0.004
    rolled_over_share: float = 0.004
    programme: tuple[Bundle, ...] = LEAN_PROGRAMME
    task_log_days: int = 400
    short_visits: bool = False
    follows_due_list: bool = False


_WEARING: Final = tuple(
    replace(socket, shape=3.0, preventive_at_cycles=inf)
    if socket.component in ("converter", "coil_cable", "spring", "roller")
    else socket
    for socket in SOCKETS
)
_LUMPY: Final = tuple(
    replace(socket, scale_cycles=120_000) if socket.component == "fuse" else socket
    for socket in SOCKETS
)

_WORLDS: Final = (
    Scenario("steady", "even use, all ages mixed, most of them known"),
    Scenario(
        "wear_out",
        "doors bought together and parts that wear, so that they fail in a wave",
        sockets=_WEARING,
        new_door_share=0.0,
        opening_years=(0.1, 0.5),
        rolled_over_share=0.0,
        unknown_age_share=0.0,
    ),
    Scenario(
        "unknown_ages", "60 % of the parts were fitted on a day nobody knows", unknown_age_share=0.6
    ),
    Scenario(
        "growth",
        "half as many doors again are delivered in the second half of the record",
        new_door_share=1 / 3,
        deliveries_from_share=0.5,
    ),
    Scenario("even_year", "every month is like every other", season_amplitude=0.0),
    Scenario(
        "usage_jump",
        "use rises by 40 % everywhere, unannounced, after three quarters of the record",
        jump_factor=1.4,
    ),
    Scenario(
        "new_revision",
        "from 60 % of the record on converters come in a revision that fails twice as often",
        revision_from_share=0.6,
    ),
    Scenario(
        "lumpy",
        "few fuses fail alone, many at once in a depot",
        sockets=_LUMPY,
        shocks_per_depot_year=4.0,
        shock_share=0.10,
    ),
    Scenario(
        "demo",
        "an invented company with a bit of everything that happens in life",
        shocks_per_depot_year=1.5,
        counter_fault_scale=0.5,
        retired_share=0.012,
        programme=FULL_PROGRAMME,
        task_log_days=800,
        short_visits=True,
        follows_due_list=True,
    ),
)
SCENARIOS: Final[Mapping[str, Scenario]] = {world.name: world for world in _WORLDS}
