"""Which job of a visit does another one along."""

from __future__ import annotations

from analytics.datasets.catalogue import Tasks

# The final check of every visit tries the reverse and reads the counter, within its own minutes.
EVERY_VISIT = ("CTR", "REV")
REPAIR = "REPAIR"
NO_TASK = -1


def does_along(tasks: Tasks, outer: int, inner: int) -> bool:
    """Whether one task, or a repair, does the other along."""
    codes, contains = tasks.codes, tasks.contains
    if inner == NO_TASK:
        return False
    outer_rank = _rank_in_every_visit(codes, outer)
    inner_rank = _rank_in_every_visit(codes, inner)
    if inner_rank:
        return outer_rank == 0 or outer_rank > inner_rank
    if outer == NO_TASK or outer_rank:
        return False
    both_ways = contains[inner, outer] and inner < outer
    return bool(contains[outer, inner]) and not both_ways


def _rank_in_every_visit(codes: tuple[str, ...], task: int) -> int:
    """1 and up for tasks of the final check, 0 for all others."""
    code = REPAIR if task == NO_TASK else codes[task]
    return EVERY_VISIT.index(code) + 1 if code in EVERY_VISIT else 0
