"""Few causes, most of the trouble: bars from the largest down."""

from __future__ import annotations

from collections.abc import Sequence

from analytics.charts import picture
from analytics.charts.picture import Figure

MOST_BARS = 12
LONGEST_NAME = 34


def largest_first(names: Sequence[str], amounts: Sequence[float], unit: str) -> Figure:
    """Level bars, the largest on top; the smallest that do not fit are left to the table."""
    shown = list(zip(names, amounts, strict=True))[:MOST_BARS]
    words = [_short(name) for name, _amount in shown]
    return picture.figure(
        [
            {
                "type": "bar",
                "orientation": "h",
                # Places on the axis, so that two causes of one name stay two bars.
                "y": list(range(len(shown))),
                "x": picture.plain([amount for _name, amount in shown]),
                "text": [f"{amount:,.0f}" for _name, amount in shown],
                "textposition": "outside",
                "textangle": 0,
                "cliponaxis": False,
                "marker": {"color": picture.LIGHT},
                "hovertemplate": "%{x:,.0f}<extra></extra>",
            }
        ],
        xaxis=picture.from_zero(unit),
        yaxis={
            "title": "",
            "tickvals": list(range(len(shown))),
            "ticktext": words,
            "autorange": "reversed",
        },
    )


def _short(name: str) -> str:
    return name if len(name) <= LONGEST_NAME else f"{name[: LONGEST_NAME - 1]}…"
