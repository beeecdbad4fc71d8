"""Failures by period against as many as the rate before would have brought."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from django.utils.translation import gettext as _

from analytics.charts import picture
from analytics.charts.picture import Figure


def failures_against_before(
    begins: Sequence[date], failures: Sequence[float], expected: Sequence[float], since: date
) -> Figure:
    """Bars of failures, those since the rise darker, with the line of what was expected."""
    at = [each.isoformat() for each in begins]
    drawn = picture.bars(
        at,
        list(failures),
        colour=picture.LIGHT,
        hover=_("%{y:.0f} failures in the four weeks from %{x}") + "<extra></extra>",
    )
    colours = [picture.DARK if each >= since else picture.LIGHT for each in begins]
    drawn |= {"marker": {"color": colours}}
    before = picture.steps(
        [],
        list(expected),
        colour=picture.ACCENT,
        name=_("at the rate before"),
        hover=_("%{y:.1f} at the rate before") + "<extra></extra>",
    )
    before |= {"x": at, "line": before["line"] | {"shape": "hvh"}}
    return picture.figure(
        [drawn, before],
        xaxis={"title": _("Four weeks from"), "type": "date"},
        yaxis=picture.from_zero(_("Failures in four weeks")),
    )
