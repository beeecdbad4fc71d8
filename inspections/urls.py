"""Addresses of what happened."""

from django.urls import include, path

from inspections.views import (
    counters,
    faults,
    first_fleet,
    fleet_import,
    readings,
    tasks_done,
)

urlpatterns = [
    path("", include("inspections.truck_urls")),
    path("", include("inspections.round_urls")),
    path("", include("inspections.stock_urls")),
    path("", include("inspections.work_urls")),
    path("", include("inspections.planning_urls")),
    path("", include("inspections.desk_urls")),
    path("", include("inspections.changes_urls")),
    path("", include("inspections.cost_urls")),
    path("doors/<key:door>/reading/", readings.reading_new, name="reading-new"),
    path("readings/<int:pk>/", readings.reading_saved, name="reading-saved"),
    path("readings/<int:pk>/accept/", readings.reading_accept, name="reading-accept"),
    path("readings/<int:pk>/correct/", readings.reading_correct, name="reading-correct"),
    path("readings/<int:pk>/hold/", readings.reading_hold, name="reading-hold"),
    path("doors/<key:door>/fault/", faults.fault_new, name="fault-new"),
    path("faults/advice/", faults.fault_advice, name="fault-advice"),
    path("faults/<int:pk>/", faults.fault_detail, name="fault-detail"),
    path("faults/<int:pk>/correct/", faults.fault_correct, name="fault-correct"),
    path("doors/<key:door>/done/", tasks_done.task_done_new, name="task-done-new"),
    path("tasks-done/<int:pk>/correct/", tasks_done.task_done_correct, name="task-done-correct"),
    path("doors/<key:door>/counter/", counters.counter_exchange, name="counter-exchange"),
    path("begin/trucks/", first_fleet.first_fleet, name="first-fleet"),
    path("import/", fleet_import.fleet_import, name="fleet-import"),
    path("import/template.zip", fleet_import.fleet_template, name="fleet-template"),
    path("import/export.zip", fleet_import.fleet_export, name="fleet-export"),
    path("import/<str:token>/", fleet_import.fleet_import_preview, name="fleet-import-preview"),
    path(
        "import/<str:token>/confirm/",
        fleet_import.fleet_import_confirm,
        name="fleet-import-confirm",
    ),
    path(
        "import/<str:token>/progress/",
        fleet_import.fleet_work_progress,
        name="fleet-work-progress",
    ),
    path("import/<str:token>/export/", fleet_import.fleet_export_made, name="fleet-export-made"),
    path("import/<str:token>/fleet.zip", fleet_import.fleet_export_file, name="fleet-export-file"),
    path(
        "import/<str:token>/errors.csv",
        fleet_import.fleet_import_errors,
        name="fleet-import-errors",
    ),
]
