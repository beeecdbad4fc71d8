"""Every component in every state, from made-up values: what the gallery page shows."""

from typing import Any

import django_tables2 as tables
from django import forms
from django.core.paginator import Paginator
from django.template.loader import render_to_string
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from fleetdoors.door_sign import DoorState
from fleetdoors.interval_bar import common_scale, draw_interval
from fleetdoors.life_strip import (
    DateMark,
    Ending,
    EventKind,
    EventMark,
    LifeStrip,
    PartSpan,
    ReadingMark,
    draw_life,
)
from fleetdoors.period_strip import Period, PeriodStrip, draw_periods
from fleetdoors.run_out_strip import RunOutStrip, RunOutWeek, draw_run_out
from fleetdoors.templatetags.units import number
from fleetdoors.units_in_use import in_words


class GalleryForm(forms.Form):
    """One field of each kind; bound with nothing it shows every error."""

    door = forms.CharField(
        label=gettext_lazy("Door"),
        help_text=gettext_lazy("As it stands on the label inside the box."),
    )
    seen_on = forms.DateField(
        label=gettext_lazy("Seen on"),
        widget=forms.DateInput(attrs={"type": "date"}),
        required=False,
    )
    component = forms.ChoiceField(
        label=gettext_lazy("Component"),
        choices=[
            ("", "…"),
            ("COIL", gettext_lazy("Coil cable")),
            ("CONV", gettext_lazy("Converter")),
        ],
    )
    can_close = forms.ChoiceField(
        label=gettext_lazy("Can the door be secured shut?"),
        widget=forms.RadioSelect,
        choices=[("yes", gettext_lazy("Yes")), ("no", gettext_lazy("No"))],
    )
    was_isolated = forms.BooleanField(
        label=gettext_lazy("Battery feed isolated, key and remote kept")
    )
    note = forms.CharField(
        label=gettext_lazy("What you saw"), widget=forms.Textarea, required=False
    )


class GalleryFilter(forms.Form):
    """What a listing can be narrowed by."""

    search = forms.CharField(label=gettext_lazy("Search"), required=False)
    depot = forms.ChoiceField(
        label=gettext_lazy("Depot"),
        choices=[("", gettext_lazy("All")), ("N", gettext_lazy("North depot"))],
        required=False,
    )


class GalleryTable(tables.Table):
    """A listing with a sign, words and numbers."""

    door = tables.Column(verbose_name=gettext_lazy("Door"))
    task = tables.Column(verbose_name=gettext_lazy("Task"))
    words = tables.Column(verbose_name=gettext_lazy("State"))
    cycles = tables.Column(
        verbose_name=gettext_lazy("Used (cycles)"), attrs={"cell": {"class": "num"}}
    )

    class Meta:
        template_name = "components/table.html"
        order_by = "-cycles"

    def render_words(self, value: str, record: dict[str, Any]) -> SafeString:
        return render_to_string("components/door_state.html", record | {"words": value})

    def render_cycles(self, value: int) -> str:
        return number(value)


class ReadingForm(forms.Form):
    """The counter field, right and wrong."""

    value = forms.IntegerField(label=gettext_lazy("Counter"), min_value=0)


def gallery_context() -> dict[str, Any]:
    """Plain values for every component; nothing is read from the database."""
    return {
        "door_states": door_states(),
        "sizes": [20, 32, 48, 96, 160],
        "shares": [0, 0.125, 0.25, 0.5, 0.75, 0.95],
        "latenesses": [1.02, 1.25, 1.5, 1.75, 2],
        "wall": wall(),
        "life": life(),
        "life_headings": [_("What"), _("Cycles"), _("When")],
        "life_rows": [[_("Coil cable failed"), "21,480", "3 Mar 2026"]],
        **intervals(),
        "periods": periods(),
        "run_out": run_out(),
        "why_evidence": why_evidence(),
        "facts": [
            {"label": _("Truck"), "value": "T-0412", "url": "#"},
            {"label": _("Model"), "value": _("Two-motor, 32 V"), "note": _("counts once a cycle")},
            {"label": _("Cycles now"), "value": "41,206", "note": _("read 2 days ago")},
        ],
        "form": GalleryForm(prefix="plain"),
        "form_with_errors": GalleryForm({}),
        "reading": ReadingForm(prefix="plain"),
        "reading_with_error": ReadingForm({"value": "12a"}),
        "page": Paginator(range(1240), 50).get_page(3),
        "figure": figure(),
        "filter_form": GalleryFilter(),
        "table": listing(),
    }


def door_states() -> list[dict[str, Any]]:
    return [
        _state(0.15, DoorState.LATER, _("Due about 14 Mar"), _("760 of 5,000 cycles")),
        _state(0.86, DoorState.SOON, _("Due Tue 1 Dec"), _("4,310 of 5,000 · 28 Nov to 8 Dec")),
        _state(1.0, DoorState.DUE, _("Due today"), _("4,990 of 5,000 cycles")),
        _state(1.4, DoorState.LATE, _("12 days late"), _("7,010 of 5,000 cycles")),
        _state(
            0.4,
            DoorState.CONDITION,
            _("A finding asks for it"),
            in_words(_("drifts 180 mm, limit 150 mm")),
        ),
        _state(None, DoorState.UNKNOWN, _("Can't say"), _("last reading 74 days ago")),
        _state(0.4, DoorState.OUT_OF_SERVICE, _("Out of service"), _("lift cable damaged")),
    ]


def _state(share: float | None, state: DoorState, words: str, detail: str) -> dict[str, Any]:
    return {"share": share, "state": state, "words": words, "detail": detail}


def listing() -> GalleryTable:
    rows = [
        state | {"door": f"D-{131 + n}", "task": _("Lubrication"), "cycles": 7010 - 640 * n}
        for n, state in enumerate(door_states())
    ]
    table = GalleryTable(rows)
    table.paginate(per_page=5)
    return table


def wall() -> list[dict[str, Any]]:
    def door(number: int, share: float | None, state: str, words: str) -> dict[str, Any]:
        return {"url": "#", "label": f"D-{number}", "share": share, "state": state, "words": words}

    north = [
        door(118, 0.4, "out_of_service", _("out of service")),
        door(204, 1.9, "late", _("28 days late")),
        door(131, 1.35, "late", _("9 days late")),
        door(177, 0.55, "condition", _("cable drags")),
        door(102, 1.0, "due", _("due today")),
        door(160, None, "unknown", _("no reading")),
        *(door(300 + n, 0.97 - n * 0.06, "soon", _("due Mon")) for n in range(3)),
        *(door(400 + n, 0.72 - n * 0.07, "later", _("in %d wk") % (2 + n)) for n in range(10)),
    ]
    return [
        {
            "title": _("North depot"),
            "note": _("worst first"),
            "doors": north,
            "more": 61,
            "more_url": "#",
        },
        {"title": _("Harbour depot"), "note": "", "doors": north[4:9], "more": 0, "more_url": ""},
    ]


def life() -> LifeStrip:
    readings = [ReadingMark(1200.0 * n + 130, _("reading %d") % n, n == 31) for n in range(1, 35)]
    events = [
        *(EventMark(at, _("lubricated"), EventKind.TASK) for at in range(4800, 41000, 4900)),
        *(EventMark(at, _("visit"), EventKind.VISIT) for at in (9700, 19800, 30100)),
        EventMark(13100, _("converter gave no 32 V"), EventKind.FAULT),
        EventMark(21480, _("coil cable open"), EventKind.FAULT),
        EventMark(36900, _("fuse blown"), EventKind.FAULT),
    ]
    return draw_life(
        start_cycles=0,
        end_cycles=41206,
        readings=readings,
        events=events,
        spans=[
            PartSpan(_("Coil cable"), 0, 21480, Ending.FAILURE, _("failed at 21,480"), False),
            PartSpan(_("Coil cable"), 21480, 41206, Ending.RUNNING, _("19,726 so far")),
            PartSpan(_("Converter"), 0, 13100, Ending.FAILURE, _("failed at 13,100")),
            PartSpan(_("Converter"), 13100, 41206, Ending.RUNNING, _("28,106 so far")),
            PartSpan(_("Lift cable, left"), 0, 30100, Ending.PLANNED, _("changed at 30,100")),
            PartSpan(_("Lift cable, left"), 30100, 41206, Ending.RUNNING, _("11,106 so far")),
        ],
        dates=[DateMark(8200, "2025"), DateMark(26400, "2026")],
    )


def intervals() -> dict[str, Any]:
    made = [
        (_("Fuse"), 6200.0, 4900.0, 7900.0, _("71 failures")),
        (_("Coil cable"), 14800.0, 11200.0, 19900.0, _("34 failures")),
        (_("Converter"), 17300.0, 10100.0, 31800.0, _("11 failures")),
        (_("Board"), None, 21500.0, None, _("no failure yet")),
    ]
    scale = common_scale([upper for *_rest, upper, _note in made])
    items = [
        {
            "label": label,
            "note": note,
            "value": _("at least 21,500") if estimate is None else f"{estimate:,.0f}",
            "words": _("lower bound only") if upper is None else f"{lower:,.0f} – {upper:,.0f}",
            "bar": draw_interval(
                lower=lower, estimate=estimate, upper=upper, scale=scale, reference=12400
            ),
        }
        for label, estimate, lower, upper, note in made
    ]
    return {"interval_items": items, "interval_scale": scale}


def periods() -> PeriodStrip:
    """Weeks that are half full, full, too full and not known."""
    shares = (0.2, 0.5, 1.0, 1.6, 0.0, None)
    return draw_periods([Period(f"{40 + k}", share) for k, share in enumerate(shares)])


def run_out() -> RunOutStrip:
    chances = (0.0, 0.01, 0.02, 0.04, 0.09, 0.18, 0.33, 0.52, 0.7, 0.84)
    weeks = [
        RunOutWeek(str(48 + n if n < 5 else n - 4), chance) for n, chance in enumerate(chances)
    ]
    return draw_run_out(weeks, limit=0.05)


def why_evidence() -> list[dict[str, str]]:
    return [
        {"label": _("Last done"), "value": "36,896", "note": _("cycles, on 2 Sep 2026")},
        {"label": _("Cycles now"), "value": "41,206", "note": _("carried forward from 23 Nov")},
        {"label": _("Use"), "value": "51.4", "note": _("cycles a day, between 46 and 57")},
        {"label": _("Interval"), "value": "5,000", "note": _("5,000 by the catalogue, no factor")},
    ]


def figure() -> dict[str, Any]:
    age = [0, 10000, 20000, 30000, 40000, 50000, 60000, 70000, 80000]
    running = [100, 99, 95, 88, 79, 67, 55, 43, 32]
    low = [100, 97, 91, 82, 70, 56, 42, 29, 18]
    high = [100, 100, 98, 93, 87, 78, 68, 58, 48]
    return {
        "data": [
            {"x": age, "y": high, "mode": "lines", "line": {"width": 0}, "hoverinfo": "skip"},
            {
                "x": age,
                "y": low,
                "mode": "lines",
                "line": {"width": 0},
                "fill": "tonexty",
                "fillcolor": "--band",
                "hoverinfo": "skip",
            },
            {"x": age, "y": running, "mode": "lines", "line": {"width": 2, "color": "--ink"}},
        ],
        "layout": {
            "xaxis": {"title": _("Age of the cable (cycles)")},
            "yaxis": {"title": _("Still running (of 100)"), "range": [0, 102]},
        },
    }
