"""A preventive task's sheet as a form: intervals, windows, who, severity, what goes along, kit."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django import forms
from django.forms import BoundField
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from analytics.datasets.catalogue import CONDITIONS
from fleetdoors.models import Duty, MaintenanceTask, Part, Performer, Setting, TaskKind
from fleetdoors.services.task_sheet import COLUMNS, TaskSheet

BLANK_ROWS = 3
LEAST_FACTOR, MOST_FACTOR = 0.05, 2.0
MOST_CYCLES, MOST_DAYS, MOST_MINUTES, MOST_PIECES = 10_000_000, 3_650, 2_880, 1_000
_NAMES = dict((*Setting.choices, *Duty.choices))


class TaskSheetForm(forms.Form):
    """Everything that the catalogue says of a task; saving needs a reason, a preview does not."""

    name = forms.CharField(label=_("Name"), max_length=200)
    interval_cycles = forms.IntegerField(
        label=_("Every so many cycles"), required=False, min_value=1, max_value=MOST_CYCLES
    )
    interval_days = forms.IntegerField(
        label=_("Every so many days"), required=False, min_value=1, max_value=MOST_DAYS
    )
    spring_class_share = forms.FloatField(
        label=_("Or every so large a share of the spring class"),
        required=False,
        min_value=0.01,
        max_value=2.0,
        help_text=_("0.5 is half of the cycles that the door model's springs are made for."),
        widget=forms.NumberInput(attrs={"step": "any"}),
    )
    window_before_percent = forms.IntegerField(
        label=_("In time from so many per cent of the interval before"), min_value=0, max_value=50
    )
    window_after_percent = forms.IntegerField(
        label=_("In time until so many per cent after"), min_value=0, max_value=100
    )
    minutes = forms.IntegerField(label=_("Minutes"), min_value=0, max_value=MOST_MINUTES)
    performer = forms.ChoiceField(label=_("Who"), choices=Performer.choices)
    kind = forms.ChoiceField(label=_("What it is for"), choices=TaskKind.choices)
    is_on_due_lists = forms.BooleanField(label=_("On due lists"), required=False)
    contains = forms.MultipleChoiceField(
        label=_("Doing it also does"),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    reason = forms.CharField(label=_("Why is it changed?"), max_length=200, required=False)

    def __init__(
        self, data: Any = None, *, code: str, sheet: TaskSheet | None, can_save: bool = True
    ) -> None:
        super().__init__(data, initial=_initial(sheet))
        self.code = code
        others = MaintenanceTask.objects.exclude(code=code).order_by("code")
        contains = self.fields["contains"]
        assert isinstance(contains, forms.MultipleChoiceField)  # declared above
        contains.choices = [(each.code, f"{each.code} · {each}") for each in others]
        for condition in CONDITIONS:
            self.fields[f"factor_{condition}"] = _factor_field(condition)
        self.rows = len(sheet.kit if sheet else {}) + BLANK_ROWS
        parts = [("", "–"), *((each.part_number, str(each)) for each in Part.objects.all())]
        for row in range(self.rows):
            self.fields[f"part_{row}"] = forms.ChoiceField(
                label=_("Part"), choices=parts, required=False
            )
            self.fields[f"pieces_{row}"] = forms.IntegerField(
                label=_("Pieces"), required=False, min_value=1, max_value=MOST_PIECES
            )
        if not can_save:
            del self.fields["reason"]

    def plain_fields(self) -> Iterator[BoundField]:
        """The fields that stand one below the other."""
        return (self[name] for name in COLUMNS)

    def factor_fields(self) -> Iterator[BoundField]:
        """One factor for each condition."""
        return (self[f"factor_{condition}"] for condition in CONDITIONS)

    def kit_fields(self) -> Iterator[tuple[BoundField, BoundField]]:
        """Part and pieces, row by row."""
        return ((self[f"part_{row}"], self[f"pieces_{row}"]) for row in range(self.rows))

    def clean(self) -> dict[str, Any]:
        """A kit names each part once and says how many; a share of the class replaces cycles."""
        cleaned = super().clean() or {}
        seen: set[str] = set()
        for row in range(self.rows):
            part = cleaned.get(f"part_{row}")
            if not part:
                continue
            if part in seen:
                self.add_error(f"part_{row}", _now("This part is in the kit already."))
            if not cleaned.get(f"pieces_{row}") and f"pieces_{row}" not in self.errors:
                self.add_error(f"pieces_{row}", _now("How many are used each time?"))
            seen.add(part)
        if cleaned.get("interval_cycles") and cleaned.get("spring_class_share"):
            self.add_error(
                "spring_class_share",
                _now("Give cycles or a share of the spring class, not both."),
            )
        return cleaned

    def sheet(self) -> TaskSheet:
        """The sheet that was typed; call it on a valid form."""
        typed = self.cleaned_data
        return TaskSheet(
            **{name: typed[name] for name in COLUMNS},
            factors={
                condition: typed[f"factor_{condition}"]
                for condition in sorted(CONDITIONS)
                if typed.get(f"factor_{condition}") is not None
            },
            contains=tuple(sorted(typed["contains"])),
            kit=dict(
                sorted(
                    (typed[f"part_{row}"], typed[f"pieces_{row}"])
                    for row in range(self.rows)
                    if typed.get(f"part_{row}")
                )
            ),
        )


class NewTaskForm(TaskSheetForm):
    """The sheet of a task that is not in the catalogue yet, with its code."""

    task_code = forms.RegexField(
        label=_("Code"),
        regex=r"^[A-Z][A-Z0-9]{1,9}$",
        max_length=10,
        help_text=_("Two to ten capital letters or digits, a letter first; it stays for good."),
        error_messages={"invalid": _("Use capital letters and digits, a letter first.")},
    )


def _factor_field(condition: str) -> forms.FloatField:
    return forms.FloatField(
        label=_NAMES[condition],
        required=False,
        min_value=LEAST_FACTOR,
        max_value=MOST_FACTOR,
        widget=forms.NumberInput(attrs={"step": "any", "placeholder": "1"}),
    )


def _initial(sheet: TaskSheet | None) -> dict[str, Any]:
    if sheet is None:
        return {
            "window_before_percent": 10,
            "window_after_percent": 10,
            "minutes": 10,
            "performer": Performer.TECHNICIAN,
            "kind": TaskKind.INSPECTION,
            "is_on_due_lists": True,
        }
    kit = {
        name: value
        for row, (part, pieces) in enumerate(sheet.kit.items())
        for name, value in ((f"part_{row}", part), (f"pieces_{row}", pieces))
    }
    factors = {f"factor_{condition}": factor for condition, factor in sheet.factors.items()}
    plain = {name: getattr(sheet, name) for name in COLUMNS}
    return {**plain, **factors, **kit, "contains": list(sheet.contains)}
