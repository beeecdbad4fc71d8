"""How many weeks of work are waiting, by the hours that people really have."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]


def net_hours(
    people: ArrayLike, paid_hours: ArrayLike, *, absent: float = 0.0, indirect: float = 0.0
) -> FloatArray:
    """Hours that people have for work at the doors.

    Parameters
    ----------
    people : array_like, not negative
    paid_hours : array_like, hours per person in the time looked at, not negative
    absent : float in 0..1, share of paid time that people are ill, on leave or at courses
    indirect : float in 0..1, share of the rest that goes into other things

    Returns
    -------
    ndarray
        people × paid hours × (1 − absent) × (1 − indirect), hours.

    Raises
    ------
    ValueError
        If a share lies outside 0..1, or a count or hours are negative.

    Examples
    --------
    >>> float(net_hours(4, 40, absent=0.12, indirect=0.15))
    119.68
    """
    for name, share in (("absent", absent), ("indirect", indirect)):
        if not 0 <= share <= 1:
            raise ValueError(f"{name} must be a share from 0 to 1, got {share:g}")
    heads, paid = np.asarray(people, float), np.asarray(paid_hours, float)
    for name, values in (("people", heads), ("paid_hours", paid)):
        if not (values >= 0).all():
            raise ValueError(f"{name} must not be negative, got {values.min():g}")
    return heads * paid * (1 - absent) * (1 - indirect)


def backlog_weeks(open_hours: ArrayLike, net_hours_per_week: ArrayLike) -> FloatArray:
    """Weeks that the open work takes at the present hours.

    Parameters
    ----------
    open_hours : array_like, estimated hours of all open work, not negative
    net_hours_per_week : array_like, hours per week for it, not negative

    Returns
    -------
    ndarray
        Weeks; inf where there is work and nobody to do it, 0 where there is no work.

    Raises
    ------
    ValueError
        If hours are negative.

    Notes
    -----
    About four weeks, two more or less, is common practice; no source.

    Examples
    --------
    >>> float(backlog_weeks(480, 4 * 30))
    4.0
    """
    work, hours = np.broadcast_arrays(
        np.asarray(open_hours, float), np.asarray(net_hours_per_week, float)
    )
    for name, values in (("open_hours", work), ("net_hours_per_week", hours)):
        if not (values >= 0).all():
            raise ValueError(f"{name} must not be negative, got {values.min():g}")
    weeks = np.where(work > 0, np.inf, 0.0)
    return np.divide(work, hours, out=weeks, where=hours > 0)
