"""Depots and trucks."""

from __future__ import annotations

from django.contrib import admin
from django.forms import ModelForm
from django.http import HttpRequest

from fleetdoors.admin.registry import RegistryAdmin, RegistryInline
from fleetdoors.models import Depot, LayUp, Mounting, Truck, TruckDepot
from fleetdoors.services.recomputation import doors_changed


@admin.register(Depot)
class DepotAdmin(RegistryAdmin):
    list_display = ("code", "name", "timezone", "setting", "bay_hours_per_day")
    search_fields = ("code", "name")

    def save_model(self, request: HttpRequest, obj: Depot, form: ModelForm, change: bool) -> None:
        super().save_model(request, obj, form, change)
        if change:
            there = Mounting.objects.open().filter(truck__depot=obj)
            doors_changed(list(there.values_list("door_id", flat=True)))


class LayUpInline(RegistryInline):
    model = LayUp


class StayInline(RegistryInline):
    model = TruckDepot
    autocomplete_fields = ("depot",)


@admin.register(Truck)
class TruckAdmin(RegistryAdmin):
    list_display = ("fleet_number", "depot", "route_kind", "in_service_on", "disposed_on")
    list_filter = ("depot", "route_kind")
    list_select_related = ("depot",)
    search_fields = ("fleet_number", "serial_number")
    autocomplete_fields = ("depot",)
    inlines = (StayInline, LayUpInline)

    def save_related(
        self, request: HttpRequest, form: ModelForm, formsets: object, change: bool
    ) -> None:
        super().save_related(request, form, formsets, change)
        carried = Mounting.objects.filter(truck=form.instance)
        doors_changed(list(carried.values_list("door_id", flat=True).distinct()))
