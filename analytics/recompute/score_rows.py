"""The score as columns of its derived table."""

from __future__ import annotations

import numpy as np

from analytics.assessment.score import Score, ScoreRecord, assess_score
from analytics.assessment.whole import DoorsFound
from analytics.datasets.fleet import PartsRecord
from analytics.datasets.labour import (
    fetch_closed_visits,
    fetch_hour_prices,
    fetch_outside_work,
)
from analytics.datasets.score import (
    fetch_driver_tasks,
    fetch_model_ids,
    fetch_outcomes,
    fetch_prices,
)
from analytics.datasets.work_ahead import fetch_task_work
from analytics.recompute import values
from analytics.recompute.store import Columns


def score_columns(generation_id: int, found: DoorsFound, record: PartsRecord) -> Columns:
    """One row for each measure, month, depot and door model in which anything was counted."""
    doors, prices = found.fleet.doors, fetch_prices()
    outcomes, off_road = fetch_outcomes(doors)
    score = assess_score(
        found,
        ScoreRecord(
            outcomes=outcomes,
            off_road=off_road,
            used=record.used,
            prices=prices,
            minutes=fetch_task_work().minutes,
            by_driver=fetch_driver_tasks(),
            visits=fetch_closed_visits(doors),
            hour_prices=fetch_hour_prices(doors, prices.currency),
            outside=fetch_outside_work(doors, prices.currency),
        ),
    )
    return _columns(generation_id, found, score)


def _columns(generation_id: int, found: DoorsFound, score: Score) -> Columns:
    doors = found.fleet.doors
    measures = list(score.sums)
    table = np.stack([score.sums[name] for name in measures])
    measure, group, month = np.nonzero((table > 0).any(axis=1))
    months = np.array([each.isoformat() for each in score.months], dtype=object)
    return {
        "generation": [generation_id] * len(measure),
        "depot": values.ids(score.depot[group], doors.depots.ids),
        "door_model": values.ids(score.model[group], fetch_model_ids(doors)),
        "month_on": months[month].tolist(),
        "measure": np.array(measures, dtype=object)[measure].tolist(),
        "amount": table[measure, 0, group, month].tolist(),
        "out_of": table[measure, 1, group, month].tolist(),
    }
