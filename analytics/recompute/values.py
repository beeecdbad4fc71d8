"""Arrays as lists of what the database takes: None for nan, ISO dates and moments as text."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analytics.datasets.clock import EPOCH_DATE
from analytics.datasets.columns import Flags, Floats, Ints

# What lies further ahead than this is not a date that anybody plans for.
FURTHEST_DAYS = 3_650.0


def _or_none(known: Flags, found: NDArray[Any]) -> list[Any]:
    column = found.astype(object)
    column[~known] = None
    return column.tolist()


def numbers(values: NDArray[np.floating]) -> list[float | None]:
    """Numbers, None where nan."""
    return _or_none(~np.isnan(values), values)


def whole_numbers(values: Floats) -> list[int | None]:
    """Whole numbers, None where nan."""
    known = np.nan_to_num(values, nan=0.0).astype(np.int64)
    return _or_none(~np.isnan(values), known)


def dates(days: Floats, latest: float = np.inf) -> list[str | None]:
    """ISO dates of epoch days, None where nan or later than `latest`."""
    known = np.isfinite(days) & (days <= latest)
    whole, place = np.unique(np.where(known, np.floor(days), 0.0), return_inverse=True)
    texts = np.array([(EPOCH_DATE + timedelta(days=day)).isoformat() for day in whole.tolist()],
                     dtype=object)  # fmt: skip
    return _or_none(known, texts[place])


def moments(epoch: Ints, known: Flags) -> list[str | None]:
    """Moments as the database writes them in UTC, None where not known."""
    return [
        f"{datetime.fromtimestamp(second, UTC):%Y-%m-%d %H:%M:%S}" if is_known else None
        for second, is_known in zip(epoch.tolist(), known.tolist(), strict=True)
    ]


def words(codes: NDArray[np.integer], names: tuple[str, ...]) -> list[str]:
    """The word of each number."""
    return np.array(names, dtype=object)[codes].tolist()


def ids(rows: NDArray[np.integer], known_ids: Ints) -> list[int | None]:
    """Database ids of rows, None where the row is -1."""
    with_none: list[Any] = [*known_ids.tolist(), None]
    return [with_none[row] for row in rows.tolist()]
