"""What happened, to look at; corrections are made on their own pages, as new rows."""

from __future__ import annotations

from django.contrib import admin
from django.urls import reverse

from fleetdoors.admin.registry import RecordAdmin, RegistryAdmin
from inspections import stock_admin  # noqa: F401  its forms are found through this module
from inspections.models import (
    Attachment,
    CounterReading,
    DefectReport,
    DefectStep,
    DeviceEntry,
    DoorLabel,
    Fault,
    FaultTrace,
    FinalCheck,
    FollowUp,
    Inspection,
    LabourRate,
    Measurement,
    OutsideInvoice,
    PartTakenBack,
    PartUsed,
    Repair,
    RoadHold,
    SafetyTick,
    SpringAuthorisation,
    StockCount,
    TaskDone,
    TraceAnswer,
    Visit,
    VisitHandover,
    VisitJob,
    VisitMinutes,
)


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


@admin.register(PartTakenBack)
class PartTakenBackAdmin(RecordAdmin):
    list_display = ("door", "fitment", "used", "entered_at", "entered_by", "reason")
    list_select_related = (
        "door",
        "fitment__door",
        "fitment__component",
        "used__door",
        "used__part",
        "entered_by",
    )
    search_fields = ("door__serial", "reason")


@admin.register(StockCount)
class StockCountAdmin(RecordAdmin):
    list_display = ("depot", "part", "counted_at", "on_hand", "on_order", "superseded_at")
    list_filter = ("depot",)
    list_select_related = ("depot", "part")
    search_fields = ("part__part_number", "part__name")

    def view_on_site(self, obj: StockCount) -> str:
        return reverse("stock-count", args=[obj.depot.code])


@admin.register(Visit)
class VisitAdmin(RecordAdmin):
    list_display = ("door", "truck", "depot", "planned_on", "state", "technician")
    list_filter = ("state", "depot")
    list_select_related = ("door", "truck", "depot", "technician")
    search_fields = ("door__serial", "truck__fleet_number")


@admin.register(VisitJob)
class VisitJobAdmin(RecordAdmin):
    list_display = ("visit", "kind", "outcome", "reason", "done_at")
    list_filter = ("kind", "outcome")
    list_select_related = ("visit__door", "visit__truck")


@admin.register(VisitHandover)
class VisitHandoverAdmin(RecordAdmin):
    list_display = ("visit", "from_person", "to_person", "handed_at")
    list_select_related = ("visit__door", "visit__truck", "from_person", "to_person")


@admin.register(SafetyTick)
class SafetyTickAdmin(RecordAdmin):
    list_display = ("visit", "tick", "ticked_at", "ticked_by", "skipped_reason")
    list_filter = ("tick",)
    list_select_related = ("visit__door", "visit__truck", "ticked_by")


@admin.register(FinalCheck)
class FinalCheckAdmin(RecordAdmin):
    list_display = ("visit", "checked_at", "checked_by", "reverses", "counter_advances")
    list_select_related = ("visit__door", "visit__truck", "checked_by")


@admin.register(Inspection)
class InspectionAdmin(RecordAdmin):
    list_display = ("door", "begun_at", "kind", "all_as_it_should_be", "inspector")
    list_filter = ("kind",)
    list_select_related = ("door",)
    search_fields = ("door__serial",)


@admin.register(Measurement)
class MeasurementAdmin(RecordAdmin):
    list_display = ("door", "quantity", "value", "measured_at", "judgement", "limit_source")
    list_filter = ("judgement", "quantity")
    list_select_related = ("door",)
    search_fields = ("door__serial",)


@admin.register(FollowUp)
class FollowUpAdmin(RecordAdmin):
    list_display = ("door", "task", "because", "opened_at", "closed_at")
    list_select_related = ("door", "task")
    search_fields = ("door__serial",)


@admin.register(FaultTrace)
class FaultTraceAdmin(RecordAdmin):
    list_display = ("door", "symptom", "begun_at", "verdict", "is_unproven", "closed_at")
    list_filter = ("verdict",)
    list_select_related = ("door",)
    search_fields = ("door__serial",)


@admin.register(TraceAnswer)
class TraceAnswerAdmin(RecordAdmin):
    list_display = ("trace", "sequence", "node", "kind", "answered_at", "withdrawn_at")
    list_select_related = ("trace__door",)


@admin.register(DefectReport)
class DefectReportAdmin(RecordAdmin):
    list_display = ("door", "complaint", "reporter", "reported_at", "state")
    list_filter = ("state",)
    list_select_related = ("door",)
    search_fields = ("door__serial",)


@admin.register(DefectStep)
class DefectStepAdmin(RecordAdmin):
    list_display = ("report", "kind", "name", "role", "taken_at")
    list_filter = ("kind",)
    list_select_related = ("report__door",)


@admin.register(RoadHold)
class RoadHoldAdmin(RecordAdmin):
    list_display = ("truck", "door", "because", "placed_at", "lifted_at", "signed_by")
    list_filter = ("because",)
    list_select_related = ("truck", "door")
    search_fields = ("door__serial", "truck__fleet_number")


@admin.register(Repair)
class RepairAdmin(RecordAdmin):
    list_display = ("fault", "mechanism", "cause", "repaired_at")
    list_filter = ("mechanism", "cause")
    list_select_related = ("fault__door", "fault__component")


@admin.register(DoorLabel)
class DoorLabelAdmin(RecordAdmin):
    list_display = ("door", "code", "issued_at")
    list_select_related = ("door",)
    search_fields = ("door__serial", "code")


@admin.register(Attachment)
class AttachmentAdmin(RecordAdmin):
    list_display = ("title", "content_type", "bytes_count", "taken_at")


@admin.register(DeviceEntry)
class DeviceEntryAdmin(RecordAdmin):
    list_display = ("kind", "client_id", "happened_at", "received_at", "author", "outcome")
    list_filter = ("outcome", "kind")
    list_select_related = ("author",)


@admin.register(VisitMinutes)
class VisitMinutesAdmin(RecordAdmin):
    list_display = ("visit", "minutes", "entered_at", "superseded_at")
    list_select_related = ("visit__door", "visit__truck")


@admin.register(LabourRate)
class LabourRateAdmin(RecordAdmin):
    list_display = ("depot", "from_on", "per_hour", "currency", "superseded_at")
    list_select_related = ("depot",)


@admin.register(OutsideInvoice)
class OutsideInvoiceAdmin(RecordAdmin):
    list_display = ("supplier", "number", "invoiced_on", "amount", "currency", "truck", "door")
    list_select_related = ("truck", "door")
    search_fields = ("supplier", "number", "door__serial", "truck__fleet_number")


@admin.register(SpringAuthorisation)
class SpringAuthorisationAdmin(RegistryAdmin):
    list_display = ("person", "from_on", "until_on", "granted_by", "withdrawn_at")
    list_select_related = ("person",)
    search_fields = ("person__username",)
