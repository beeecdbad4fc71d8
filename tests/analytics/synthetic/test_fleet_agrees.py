"""The tables of a made fleet agree with each other and with its truth, recomputed row by row."""

from bisect import bisect_right
from collections import Counter, defaultdict
from datetime import date, timedelta
from itertools import pairwise

from tests.analytics.synthetic.conftest import MadeFleet, Row


def weekly_bounds(fleet: MadeFleet) -> dict[str, tuple[list[str], list[int]]]:
    """Days and lifetime cycles of each door's weekly truth."""
    bounds = {}
    for row in fleet.rows("truth/weekly_cycles"):
        days = [name for name in row if name != "door"]
        bounds[row["door"]] = (days, [int(row[day]) for day in days])
    return bounds


def holds(bounds: dict[str, tuple[list[str], list[int]]], door: str, day: str, at: int) -> bool:
    """Whether these lifetime cycles are possible on that day, seen from the weeks around it."""
    days, cycles = bounds[door]
    place = bisect_right(days, day)
    # The truth of a day is taken at its end, so that the day itself may lie a week before.
    low = cycles[place - 2] if place >= 2 else 0
    high = cycles[place] if place < len(days) else cycles[-1]
    return low <= at <= high


def test_readings_count_the_true_cycles(demo_fleet: MadeFleet) -> None:
    """Lifetime cycles by the documented rule, from the recorded tables alone, one by one."""
    bounds = weekly_bounds(demo_fleet)
    models = {row["door_model"]: row for row in demo_fleet.rows("door_models")}
    doors = {row["door"]: row for row in demo_fleet.rows("doors")}
    fitted = defaultdict(list)
    for row in demo_fleet.rows("counters"):
        fitted[row["door"]].append(row)
    labelled = {(r["door"], r["read_at"]): r for r in demo_fleet.rows("truth/counter_faults")}
    lost = {r["door"] for r in labelled.values() if r["cause"] == "exchange"}
    state: dict[str, tuple[int, int, int]] = {}
    checked = rollovers = 0
    for row in demo_fleet.rows("readings"):
        door, day = row["door"], row["read_at"][:10]
        label = labelled.get((door, row["read_at"]))
        if door in lost or (label and label["cause"] != "rollover"):
            continue
        model = models[doors[door]["door_model"]]
        modulus, basis = 10 ** int(model["counter_digits"]), int(model["counts_per_cycle"])
        opening = int(doors[door]["opening_cycles"])
        segment = sum(day >= each["fitted_on"] for each in fitted[door][1:])
        _, last, total = state.get(door, (0, opening * basis % modulus, opening * basis))
        for past in range(state.get(door, (0, 0, 0))[0], segment):
            total += (int(fitted[door][past]["last_value"]) - last) % modulus
            last = int(fitted[door][past + 1]["first_value"])
        value = int(row["counter_value"])
        rollovers += value < last
        assert (value < last) == (label is not None) or segment != state.get(door, (0,))[0]
        total += (value - last) % modulus
        state[door] = (segment, value, total)
        assert holds(bounds, door, day, total // basis), row
        checked += 1
    assert checked > 7_000
    assert rollovers >= 1


def test_each_part_follows_the_one_before_it(demo_fleet: MadeFleet) -> None:
    chains = defaultdict(list)
    for row in demo_fleet.rows("fitments"):
        chains[row["door"], row["component"], row["position"]].append(row)
    bounds = weekly_bounds(demo_fleet)
    for chain in chains.values():
        assert [bool(row["removed_on"]) for row in chain] == [True] * (len(chain) - 1) + [False]
        for before, after in pairwise(chain):
            assert before["removed_at_cycles"] == after["fitted_at_cycles"]
            assert before["removed_on"] == after["fitted_on"]
            assert int(before["removed_at_cycles"]) > int(before["fitted_at_cycles"] or -1)
            cycles = int(before["removed_at_cycles"])
            assert holds(bounds, before["door"], before["removed_on"], cycles)
    assert len(chains) == 240 * 11


def test_unknown_ages_are_first_lives_of_doors_with_a_past(demo_fleet: MadeFleet) -> None:
    opening = {row["door"]: int(row["opening_cycles"]) for row in demo_fleet.rows("doors")}
    unknown = [row for row in demo_fleet.rows("fitments") if not row["fitted_at_cycles"]]
    late = [row for row in demo_fleet.rows("fitments") if row["observed_from_cycles"]]
    assert unknown
    assert all(opening[row["door"]] > 0 and not row["fitted_on"] for row in unknown)
    assert late
    for row in late:
        assert int(row["observed_from_cycles"]) == opening[row["door"]]
        assert int(row["fitted_at_cycles"]) < opening[row["door"]]


def test_fitments_are_the_true_lives(demo_fleet: MadeFleet) -> None:
    def key(row: Row, end: str, kind: str) -> tuple[str, ...]:
        return (row["door"], row["component"], row["position"], row["part"], row[end], kind)

    recorded = Counter(
        key(row, "removed_at_cycles", row["removal"] or "running")
        for row in demo_fleet.rows("fitments")
    )
    true = Counter(
        key(row, "ended_at_cycles", row["end"]) for row in demo_fleet.rows("truth/lives")
    )
    assert recorded == true


def test_every_failed_part_has_its_fault_and_every_change_its_parts(
    demo_fleet: MadeFleet,
) -> None:
    lived = {row["component"] for row in demo_fleet.rows("fitments")}
    faults = Counter(
        (row["door"], row["component"], row["found_at"][:10])
        for row in demo_fleet.rows("faults")
        if row["component"] in lived
    )
    removed = [row for row in demo_fleet.rows("fitments") if row["removal"]]
    failed = Counter(
        (row["door"], row["component"], row["removed_on"])
        for row in removed
        if row["removal"] == "failed"
    )
    assert faults == failed
    fitted_parts = {row["part"] for row in demo_fleet.rows("fitments")}
    used = Counter(
        (row["door"], row["part"], row["used_at"][:10])
        for row in demo_fleet.rows("parts_used")
        if row["part"] in fitted_parts
    )
    assert used == Counter((row["door"], row["part"], row["removed_on"]) for row in removed)


def test_given_cycles_are_possible_on_their_day(demo_fleet: MadeFleet) -> None:
    bounds = weekly_bounds(demo_fleet)
    for table, moment in (("faults", "found_at"), ("tasks_done", "done_at")):
        given = [row for row in demo_fleet.rows(table) if row["at_cycles"]]
        assert 0.3 < len(given) / len(demo_fleet.rows(table)) < 0.9
        for row in given:
            assert holds(bounds, row["door"], row[moment][:10], int(row["at_cycles"])), row


def test_nothing_recorded_lies_outside_a_door_s_record(demo_fleet: MadeFleet) -> None:
    doors = {row["door"]: row for row in demo_fleet.rows("doors")}
    until = demo_fleet.plan.until.isoformat()
    for table, moment in (
        ("readings", "read_at"),
        ("faults", "found_at"),
        ("tasks_done", "done_at"),
        ("parts_used", "used_at"),
    ):
        for row in demo_fleet.rows(table):
            door, day = doors[row["door"]], row[moment][:10]
            assert door["record_from"] <= day <= until
            assert not door["retired_on"] or day < door["retired_on"]


def test_demo_is_messy_like_life(demo_fleet: MadeFleet) -> None:
    last: dict[str, str] = {}
    for row in demo_fleet.rows("readings"):
        last[row["door"]] = max(last.get(row["door"], ""), row["read_at"][:10])
    doors = {row["door"] for row in demo_fleet.rows("doors")}
    story = {row["door"]: row["story"] for row in demo_fleet.rows("truth/doors")}
    new = {r["door"]: r["record_from"] for r in demo_fleet.rows("doors")}
    unread = doors - set(last)
    assert "brand_new" in {story[door] for door in unread}
    month_ago = (demo_fleet.plan.until - timedelta(40)).isoformat()
    assert all(new[door] > month_ago for door in unread)
    old = (demo_fleet.plan.until - timedelta(120)).isoformat()
    stale = [door for door, kind in story.items() if kind == "stale"]
    assert len(stale) == 2
    assert all(last[door] < old for door in stale)
    recent = (demo_fleet.plan.until - timedelta(13)).isoformat()
    assert max(last.values()) > recent
    causes = {row["cause"] for row in demo_fleet.rows("truth/counter_faults")}
    assert len(causes) == 7
    assert len({row["depot"] for row in demo_fleet.rows("depots")}) == 3
    assert any(int(row["on_hand"]) == 0 for row in demo_fleet.rows("stock"))
    assert any(float(row["hazard_factor"]) > 1 for row in demo_fleet.rows("truth/doors"))


def test_rolled_over_door_passes_zero_shortly_before_the_end(demo_fleet: MadeFleet) -> None:
    door = next(r["door"] for r in demo_fleet.rows("truth/doors") if r["story"] == "rolled_over")
    models = {row["door_model"]: row for row in demo_fleet.rows("door_models")}
    unit = next(row for row in demo_fleet.rows("doors") if row["door"] == door)
    model = models[unit["door_model"]]
    turn = 10 ** int(model["counter_digits"]) // int(model["counts_per_cycle"])
    week = next(r for r in demo_fleet.rows("truth/weekly_cycles") if r["door"] == door)
    end = demo_fleet.plan.until
    before, after = (int(week[(end - timedelta(days)).isoformat()]) for days in (14, 7))
    assert (before + 1) // turn < (after + 1) // turn or before // turn < after // turn
    assert date.fromisoformat(unit["record_from"]) < end
