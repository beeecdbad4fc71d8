"""The running likelihood of each cause group, from priors, the fleet's own faults and the answers.

Priors, minutes and the table of what each test shows are assumptions of common practice, no
source. The fleet's own closed faults take the priors over: after 10 they weigh as much.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from inspections.tracing.elements import GOOD, Outcome, Symptom, _
from inspections.tracing.engine import Position


@dataclass(frozen=True)
class CauseGroup:
    """Causes that one test tells apart from the rest: its prior, minutes and nodes in order."""

    code: str
    name: str
    prior: float
    minutes: float
    nodes: tuple[str, ...]


_GROUPS = (
    CauseGroup("remote", _("remote or switch"), 0.18, 2, ("N01", "N02")),
    CauseGroup("fuse", _("fuse"), 0.12, 3, ("N14",)),
    CauseGroup("supply", _("low supply or feed"), 0.15, 4, ("N10", "N11")),
    CauseGroup("converter", _("converter"), 0.12, 4, ("N12",)),
    CauseGroup("sensors", _("sensors"), 0.10, 4, ("N40", "N41")),
    CauseGroup("mechanics", _("mechanics"), 0.10, 6, ("N50", "N51")),
    CauseGroup("cable", _("coil cable or plugs"), 0.14, 10, ("N18",)),
    CauseGroup("board", _("board output"), 0.04, 8, ("N17",)),
    CauseGroup("motor", _("motor"), 0.05, 12, ("N25", "N26")),
)
GROUPS = {group.code: group for group in _GROUPS}
# Groups of nodes and verdicts that are no cause of "the door does not work".
OTHER_GROUPS = ("function", "lamp", "counter")

_COMPONENTS = {
    "remote": ("remote", "remote_battery", "receiver", "switch"),
    "supply": ("supply_feed",),
    "converter": ("converter",),
    "fuse": ("fuse", "fuse_holder"),
    "board": ("control_board", "gasket"),
    "cable": ("coil_cable", "slider", "connector"),
    "motor": ("motor",),
    "sensors": ("open_sensor", "closed_sensor"),
    "mechanics": (
        "spring", "lift_cable", "roller", "hinge", "track", "panel", "bottom_seal", "turnbuckle",
        "manual_release",
    ),
}  # fmt: skip
GROUP_OF_COMPONENT = {part: group for group, parts in _COMPONENTS.items() for part in parts}

# What ten closed faults weigh against the assumed priors.
PRIOR_WEIGHT = 10
# Chance of a complaint under a group that it does not point to, against 1 where it does.
ELSEWHERE = 0.25
# A meter held wrong, a second fault: no answer ever rules a group out.
FALSE_ALARM = 0.03
EPSILON = 0.02

# Chance that a test fails if this group is the cause; FALSE_ALARM for all others.
FAILS: dict[str, dict[str, float]] = {
    "N01": {"supply": 0.5, "fuse": 0.7, "converter": 0.7, "board": 0.4},
    "N02": {"remote": 0.9},
    "N04": {"remote": 0.5},
    "N06": {"remote": 0.1, "board": 0.3},
    "N10": {"supply": 0.55},
    "N11": {"supply": 0.9},
    "N12": {"converter": 0.85, "supply": 0.1, "cable": 0.1},
    "N13": {"converter": 0.9},
    "N14": {"fuse": 0.95, "cable": 0.2, "motor": 0.15},
    "N15": {"board": 0.5, "cable": 0.05},
    "N16": {"cable": 0.6, "fuse": 0.05},
    "N17": {"board": 0.9, "converter": 0.35, "supply": 0.3, "sensors": 0.3, "motor": 0.15},
    "N18": {"cable": 0.9},
    "N19": {"converter": 0.8, "supply": 0.6, "mechanics": 0.2},
    "N20": {"sensors": 0.8},
    "N21": {"supply": 0.9, "converter": 0.1},
    "N22": {"mechanics": 0.8},
    "N25": {"motor": 0.9, "mechanics": 0.2, "cable": 0.2},
    "N26": {"motor": 0.9, "mechanics": 0.3},
    "N27": {"remote": 0.9},
    "N32": {"supply": 0.85},
    "N40": {"sensors": 0.6},
    "N41": {"sensors": 0.6},
    "N43": {"mechanics": 0.7, "board": 0.5, "sensors": 0.3, "motor": 0.3},
    "N45": {"sensors": 0.5},
    "N46": {"sensors": 0.9},
    "N50": {"mechanics": 0.45},
    "N51": {"mechanics": 0.75},
    "N53": {"mechanics": 0.3},
    "N55": {"mechanics": 0.1, "board": 0.2},
    "N70": {"cable": 0.9},
    "N71": {"supply": 0.4, "fuse": 0.3},
}
# What is wrong, by group: chance of each choice at N31.
CHOICES: dict[str, dict[str, float]] = {
    "no_motion": {"supply": 0.4, "converter": 0.7, "fuse": 0.8, "board": 0.6, "cable": 0.5,
                  "motor": 0.7, "remote": 0.5},
    "slow": {"supply": 0.5, "converter": 0.3, "mechanics": 0.3, "motor": 0.2},
    "reverses": {"sensors": 0.8, "mechanics": 0.3},
    "heavy": {"mechanics": 0.5},
    "at_random": {"cable": 0.4, "fuse": 0.15},
    "no_reverse": {"mechanics": 0.1, "board": 0.1},
    "lamp": {"sensors": 0.1},
}  # fmt: skip


def priors_from_closed(
    closed: Mapping[str, int], start: Mapping[str, float] | None = None
) -> dict[str, float]:
    """Shares after closed faults by group, (n + 10 p) / (N + 10); p = `start`, or what is usual.

    Raises
    ------
    ValueError
        If a group is unknown or a count negative.
    """
    wrong = [group for group, count in closed.items() if group not in GROUPS or count < 0]
    if wrong:
        raise ValueError(f"Closed faults are counted, 0 or more, by known group, not {wrong}.")
    usual = {code: group.prior for code, group in GROUPS.items()}
    before = _normalised(usual if start is None else start)
    total = sum(closed.values()) + PRIOR_WEIGHT
    return {code: (closed.get(code, 0) + PRIOR_WEIGHT * before[code]) / total for code in GROUPS}


def _normalised(weights: Mapping[str, float]) -> dict[str, float]:
    total = sum(weights.values())
    return {code: weight / total for code, weight in weights.items()}


def _chance(node: str, outcome: str, choice: object, group: str) -> float:
    """Chance of an answer if the group is the cause, never 0 and never 1."""
    if choice is not None:
        return max(EPSILON, CHOICES[str(choice)].get(group, EPSILON))
    fails = FAILS[node].get(group, FALSE_ALARM)
    chance = fails if outcome == Outcome.FAIL else 1 - fails
    return min(max(chance, EPSILON), 1 - EPSILON)


def after_complaint(symptom: Symptom, priors: Mapping[str, float]) -> dict[str, float]:
    """Likelihoods once the complaint is known, before any test."""
    if not symptom.groups:
        return _normalised(priors)
    return _normalised(
        {
            code: prior * (1.0 if code in symptom.groups else ELSEWHERE)
            for code, prior in priors.items()
        }
    )


def cause_likelihoods(
    symptom: Symptom, position: Position, priors: Mapping[str, float] | None = None
) -> dict[str, float]:
    """Likelihood of each group after the complaint and every answer that still holds; sums to 1."""
    start = {code: group.prior for code, group in GROUPS.items()} if priors is None else priors
    likelihoods = after_complaint(symptom, start)
    for node, outcome in position.outcomes.items():
        choice = position.known.get(f"{node}.what")
        if outcome not in (*GOOD, Outcome.FAIL) or (node not in FAILS and choice is None):
            continue
        likelihoods = _normalised(
            {
                group: likelihood * _chance(node, outcome, choice, group)
                for group, likelihood in likelihoods.items()
            }
        )
    return likelihoods
