"""Addresses of what it means."""

from django.urls import include, path

from analytics.views import (
    component,
    door_condition,
    door_detail,
    door_list,
    due_export,
    due_list,
    forecast_record,
    part_detail,
    part_list,
    reading_answer,
    recompute,
    reliability,
    settle,
    today,
)

urlpatterns = [
    path("", include("analytics.schedule_urls")),
    path("", today.today, name="today"),
    path("", include("analytics.planning_urls")),
    path("", include("analytics.buying_urls")),
    path("", include("analytics.paper_urls")),
    path("due/", due_list.due_list, name="due-list"),
    path("due.csv", due_export.due_csv, name="due-csv"),
    path("due.xlsx", due_export.due_workbook, name="due-workbook"),
    path("due/<key:door>/<key:task>/", due_list.due_why, name="due-why"),
    path("doors/", door_list.door_list, name="door-list"),
    path("doors/<key:door>/condition/", door_condition.door_condition, name="door-condition"),
    path("doors/<key:door>/", door_detail.door_detail, name="door-detail"),
    path("trucks/<key:truck>/", door_detail.truck_detail, name="truck-detail"),
    path("readings/<int:pk>/answer/", reading_answer.answer_to_reading, name="reading-answer"),
    path("settle/", settle.readings_to_settle, name="readings-to-settle"),
    path("recompute/", recompute.recompute, name="recompute"),
    path("recompute/progress/", recompute.recompute_progress, name="recompute-progress"),
    path("reliability/", reliability.reliability, name="reliability"),
    path("reliability/<slug:component>/", component.component_detail, name="component-detail"),
    path("forecast-record/", forecast_record.forecast_record, name="forecast-record"),
    path("forecast-record/check/", forecast_record.check_forecasts, name="check-forecasts"),
    path("forecast-record/progress/", forecast_record.forecast_check, name="forecast-check"),
    path("parts/", part_list.part_list, name="part-list"),
    path("parts.csv", part_list.part_csv, name="part-csv"),
    path("parts/<key:part>/", part_detail.part_detail, name="part-detail"),
]
