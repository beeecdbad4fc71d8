"""Addresses of the technician's day and of what a phone keeps."""

from django.urls import path

from inspections.views import (
    device_entries,
    offline,
    phone_people,
    round_doors,
    round_visit,
    trace_page,
)

urlpatterns = [
    path("sw.js", offline.service_worker, name="service-worker"),
    path("round/doors/", round_doors.round_doors, name="round-doors"),
    path("round/data/", offline.round_data, name="round-data"),
    path("round/tree/", offline.round_tree, name="round-tree"),
    path("round/shop/", round_visit.round_shop, name="round-shop"),
    path("round/people/", phone_people.round_people, name="round-people"),
    path("round/people/add/", phone_people.round_people_add, name="round-people-add"),
    path("round/pin/", phone_people.round_pin, name="round-pin"),
    path("round/offline/", offline.round_offline, name="round-offline"),
    path("round/waiting/", offline.round_waiting, name="round-waiting"),
    path("round/entries/", device_entries.round_entries, name="round-entries"),
    path("round/doors/<key:door>/trace/", trace_page.round_trace, name="round-trace"),
    path("round/doors/<key:door>/visit/", round_visit.round_visit, name="round-visit"),
    path("round/doors/<key:door>/", round_doors.round_door, name="round-door"),
]
