"""Addresses of the planner's longer view: the year ahead, the catalogue, and the score."""

from django.urls import path

from analytics.views import score, since, task_catalogue, work_ahead

urlpatterns = [
    path("ahead/", work_ahead.work_ahead, name="work-ahead"),
    path("since/", since.since, name="since"),
    path("since/seen/", since.since_seen, name="since-seen"),
    path("score/", score.score, name="score"),
    path("tasks/", task_catalogue.task_list, name="task-list"),
    path("tasks/new/", task_catalogue.task_new, name="task-new"),
    path(
        "tasks/changes/<int:pk>/undo/",
        task_catalogue.task_change_undo,
        name="task-change-undo",
    ),
    path("tasks/<key:code>/", task_catalogue.task_detail, name="task-detail"),
]
