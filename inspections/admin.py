"""What happened, to look at; corrections are made on their own pages, as new rows."""

from __future__ import annotations

from django.contrib import admin
from django.urls import reverse

from fleetdoors.admin.registry import RecordAdmin
from inspections.models import CounterReading, Fault, PartUsed, StockCount, TaskDone


@admin.register(CounterReading)
class CounterReadingAdmin(RecordAdmin):
    list_display = ("door", "read_at", "counter_value", "status", "ruling", "superseded_at")
    list_filter = ("status", "source")
    list_select_related = ("door",)
    search_fields = ("door__serial",)

    def view_on_site(self, obj: CounterReading) -> str:
        return reverse("reading-saved", args=[obj.pk])


@admin.register(Fault)
class FaultAdmin(RecordAdmin):
    list_display = ("door", "found_at", "component", "mode", "is_failure", "superseded_at")
    list_filter = ("is_failure", "component")
    list_select_related = ("door", "component")
    search_fields = ("door__serial",)

    def view_on_site(self, obj: Fault) -> str:
        return reverse("fault-detail", args=[obj.pk])


@admin.register(TaskDone)
class TaskDoneAdmin(RecordAdmin):
    list_display = ("door", "task", "done_at", "at_cycles", "done_by", "superseded_at")
    list_filter = ("task",)
    list_select_related = ("door", "task")
    search_fields = ("door__serial",)

    def view_on_site(self, obj: TaskDone) -> str:
        return reverse("task-done-correct", args=[obj.pk])


@admin.register(PartUsed)
class PartUsedAdmin(RecordAdmin):
    list_display = ("door", "part", "quantity", "used_at", "depot", "draws_on_stock")
    list_filter = ("depot",)
    list_select_related = ("door", "part", "depot")
    search_fields = ("door__serial", "part__part_number")


@admin.register(StockCount)
class StockCountAdmin(RecordAdmin):
    list_display = ("depot", "part", "counted_at", "on_hand", "on_order", "superseded_at")
    list_filter = ("depot",)
    list_select_related = ("depot", "part")
    search_fields = ("part__part_number", "part__name")

    def view_on_site(self, obj: StockCount) -> str:
        return reverse("stock-count", args=[obj.depot.code])
