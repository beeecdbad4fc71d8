"""Components, parts and cautions."""

from __future__ import annotations

from django.contrib import admin

from fleetdoors.admin.registry import RegistryAdmin, RegistryInline
from fleetdoors.models import (
    Caution,
    Component,
    Part,
    PartAlternate,
    PartKit,
    PartKitLine,
)


@admin.register(Caution)
class CautionAdmin(RegistryAdmin):
    list_display = ("code", "signal_word", "text")
    search_fields = ("code", "text")


@admin.register(Component)
class ComponentAdmin(RegistryAdmin):
    list_display = ("name", "code", "kind")
    list_filter = ("kind",)
    search_fields = ("code", "name")


@admin.register(Part)
class PartAdmin(RegistryAdmin):
    list_display = ("part_number", "name", "component", "unit_cost", "currency", "lead_time_days")
    list_filter = ("component",)
    list_select_related = ("component",)
    search_fields = ("part_number", "name")
    autocomplete_fields = ("component", "replaces")
    filter_horizontal = ("fits",)


class PartKitLineInline(RegistryInline):
    model = PartKitLine
    autocomplete_fields = ("part",)


@admin.register(PartKit)
class PartKitAdmin(RegistryAdmin):
    list_display = ("code", "name")
    search_fields = ("code", "name")
    inlines = (PartKitLineInline,)


@admin.register(PartAlternate)
class PartAlternateAdmin(RegistryAdmin):
    list_display = ("part", "alternate", "note")
    list_select_related = ("part", "alternate")
    autocomplete_fields = ("part", "alternate")
