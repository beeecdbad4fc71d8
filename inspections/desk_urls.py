"""Addresses of the planner's desk: readings from paper, visits in calendars, who can leave."""

from django.urls import path

from inspections.views import leaving, one_off_checks, reading_grid, roadside, visit_feeds

urlpatterns = [
    path("depots/<key:code>/readings/", reading_grid.reading_grid, name="reading-grid"),
    path("depots/<key:code>/leaving/", leaving.leaving, name="leaving"),
    path("roadside/", roadside.roadside_call, name="roadside-call"),
    path("one-off/", one_off_checks.one_off_list, name="one-off-list"),
    path("one-off/new/", one_off_checks.one_off_new, name="one-off-new"),
    path("one-off/<int:pk>/", one_off_checks.one_off_check, name="one-off-check"),
    path("one-off/<int:pk>/close/", one_off_checks.one_off_close, name="one-off-close"),
    path(
        "one-off/looks/<int:pk>/take-back/",
        one_off_checks.one_off_look_back,
        name="one-off-look-back",
    ),
    path("calendars/", visit_feeds.visit_feeds, name="visit-feeds"),
    path("calendars/<int:pk>/close/", visit_feeds.visit_feed_end, name="visit-feed-end"),
    path("calendars/<str:secret>.ics", visit_feeds.visit_calendar, name="visit-calendar"),
]
