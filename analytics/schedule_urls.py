"""Addresses of the week's plan."""

from django.urls import path

from analytics.views import schedule, schedule_changes

urlpatterns = [
    path("schedule/", schedule.schedule, name="schedule"),
    path("schedule/propose/", schedule.schedule_propose, name="schedule-propose"),
    path("schedule/run/", schedule.schedule_run, name="schedule-run"),
    path("schedule/run/<int:pk>/", schedule.schedule_progress, name="schedule-progress"),
    path("schedule/<int:pk>/move/", schedule_changes.schedule_move, name="schedule-move"),
    path("schedule/<int:pk>/release/", schedule_changes.schedule_release, name="schedule-release"),
    path("schedule/<int:pk>/accept/", schedule_changes.schedule_accept, name="schedule-accept"),
    path(
        "schedule/<int:pk>/put-away/", schedule_changes.schedule_put_away, name="schedule-put-away"
    ),
    path(
        "schedule/accepted/<int:pk>/back/",
        schedule_changes.schedule_take_back,
        name="schedule-take-back",
    ),
]
