"""Door models, doors, where they are mounted, their counters and fitted parts."""

# ruff: noqa: ARG002  Django's admin hands its methods more than each needs.

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import admin
from django.core.exceptions import ValidationError
from django.db.models import Model, QuerySet
from django.http import HttpRequest
from django.utils import timezone
from django.utils.translation import gettext as _

from fleetdoors.admin.registry import RegistryAdmin, RegistryInline, is_administrator
from fleetdoors.models import Counter, DoorModel, DoorUnit, Fitment, FusePosition, Mounting
from fleetdoors.services.mounting import (
    MountingRefusedError,
    check_mounting,
    check_unmounting,
    mount_door,
    unmount_door,
)
from fleetdoors.services.recomputation import doors_changed


class FusePositionInline(RegistryInline):
    model = FusePosition


@admin.register(DoorModel)
class DoorModelAdmin(RegistryAdmin):
    list_display = ("code", "supply_volts", "drive_volts", "counter_digits", "counts_per_cycle")
    search_fields = ("code",)
    inlines = (FusePositionInline,)

    def save_model(
        self, request: HttpRequest, obj: DoorModel, form: forms.ModelForm, change: bool
    ) -> None:
        super().save_model(request, obj, form, change)
        doors_changed(list(obj.doors.values_list("pk", flat=True)))


@admin.register(DoorUnit)
class DoorUnitAdmin(RegistryAdmin):
    list_display = ("serial", "door_model", "opening_cycles", "record_from", "retired_on")
    list_filter = ("door_model",)
    list_select_related = ("door_model",)
    search_fields = ("serial",)
    autocomplete_fields = ("door_model",)

    def save_model(
        self, request: HttpRequest, obj: DoorUnit, form: forms.ModelForm, change: bool
    ) -> None:
        super().save_model(request, obj, form, change)
        doors_changed([obj.pk])


class MountingForm(forms.ModelForm):
    """A door goes on a truck, or comes off; the service says what cannot be."""

    class Meta:
        model = Mounting
        fields = ("door", "truck", "mounted_on", "removed_on")

    def clean(self) -> dict[str, Any]:
        """The service's own words stand in for those of the database's constraints."""
        cleaned = self.cleaned_data
        try:
            if self.instance.pk and cleaned.get("removed_on"):
                check_unmounting(mounting=self.instance, removed_on=cleaned["removed_on"])
            elif {"door", "truck", "mounted_on"} <= cleaned.keys():
                check_mounting(
                    door=cleaned["door"], truck=cleaned["truck"], mounted_on=cleaned["mounted_on"]
                )
        except MountingRefusedError as error:
            raise ValidationError(str(error)) from error
        return cleaned


@admin.register(Mounting)
class MountingAdmin(RegistryAdmin):
    form = MountingForm
    list_display = ("door", "truck", "mounted_on", "removed_on")
    list_select_related = ("door", "truck")
    search_fields = ("door__serial", "truck__fleet_number")
    autocomplete_fields = ("door", "truck")

    def get_fields(self, request: HttpRequest, obj: Model | None = None) -> tuple[str, ...]:
        begun = ("door", "truck", "mounted_on")
        return (*begun, "removed_on") if obj else begun

    def get_readonly_fields(self, request: HttpRequest, obj: Model | None = None) -> list[str]:
        return ["door", "truck", "mounted_on"] if obj else []

    def has_change_permission(self, request: HttpRequest, obj: Model | None = None) -> bool:
        has_ended = isinstance(obj, Mounting) and obj.removed_on is not None
        return is_administrator(request) and not has_ended

    def save_model(
        self, request: HttpRequest, obj: Mounting, form: forms.ModelForm, change: bool
    ) -> None:
        now = timezone.now()
        if not change:
            mounting = mount_door(
                door=obj.door, truck=obj.truck, mounted_on=obj.mounted_on, entered_at=now
            )
            obj.pk = mounting.pk
        elif obj.removed_on:
            unmount_door(door=obj.door, removed_on=obj.removed_on, entered_at=now)


class CounterForm(forms.ModelForm):
    """A counter's stay, typed once; an exchange has its own page."""

    class Meta:
        model = Counter
        fields = ("door", "serial", "digits", "counts_per_cycle", "fitted_on", "first_value",
                  "removed_on", "last_value")  # fmt: skip

    def clean(self) -> dict[str, Any]:
        """A second counter that is still on says what to do instead."""
        cleaned = super().clean() or self.cleaned_data
        door = cleaned.get("door") or getattr(self.instance, "door", None)
        if door and not cleaned.get("removed_on"):
            others = door.counters.filter(removed_on__isnull=True).exclude(pk=self.instance.pk)
            if others.exists():
                raise ValidationError(
                    _("A door has one counter at a time: record an exchange on the door's page.")
                )
        return cleaned


@admin.register(Counter)
class CounterAdmin(RegistryAdmin):
    form = CounterForm
    list_display = ("door", "serial", "fitted_on", "first_value", "removed_on", "last_value")
    list_select_related = ("door",)
    search_fields = ("door__serial", "serial")
    autocomplete_fields = ("door",)

    def get_readonly_fields(self, request: HttpRequest, obj: Model | None = None) -> list[str]:
        return ["door"] if obj else []

    def save_model(
        self, request: HttpRequest, obj: Counter, form: forms.ModelForm, change: bool
    ) -> None:
        _stamp(obj, is_ended=obj.removed_on is not None)
        super().save_model(request, obj, form, change)
        doors_changed([obj.door_id])


@admin.register(Fitment)
class FitmentAdmin(RegistryAdmin):
    list_display = ("door", "component", "position", "part", "fitted_at_cycles",
                    "removed_at_cycles", "removal")  # fmt: skip
    list_filter = ("component", "removal")
    list_select_related = ("door", "component", "part")
    search_fields = ("door__serial",)
    autocomplete_fields = ("door", "component", "part")
    exclude = ("entered_at", "end_entered_at", "corrects", "superseded_at")

    def get_queryset(self, request: HttpRequest) -> QuerySet[Fitment]:
        """What was taken back is shown on the door's page, and altered nowhere."""
        return super().get_queryset(request).filter(superseded_at__isnull=True)

    def get_readonly_fields(self, request: HttpRequest, obj: Model | None = None) -> list[str]:
        return ["door"] if obj else []

    def save_model(
        self, request: HttpRequest, obj: Fitment, form: forms.ModelForm, change: bool
    ) -> None:
        _stamp(obj, is_ended=bool(obj.removal))
        super().save_model(request, obj, form, change)
        doors_changed([obj.door_id])


def _stamp(row: Counter | Fitment, *, is_ended: bool) -> None:
    """When a stay and its end were entered: now, unless that is on record already."""
    row.entered_at = row.entered_at or timezone.now()
    if is_ended:
        row.end_entered_at = row.end_entered_at or timezone.now()
