"""Addresses of what plans rest on, and of what became of them."""

from django.urls import path

from inspections.views import depot_hours, off_plan

urlpatterns = [
    path("depots/<key:code>/hours/", depot_hours.depot_hours, name="depot-hours"),
    path("depots/<key:code>/closed/", depot_hours.depot_closed_day, name="depot-closed-day"),
    path("depots/<key:code>/people/", depot_hours.depot_people, name="depot-people"),
    path("trucks/<key:truck>/hours/", depot_hours.truck_hours, name="truck-hours"),
    path("spring-words/new/", depot_hours.spring_word_new, name="spring-word-new"),
    path(
        "spring-words/<int:pk>/withdraw/",
        depot_hours.spring_word_withdraw,
        name="spring-word-withdraw",
    ),
    path("visits/<int:pk>/off-plan/", off_plan.visit_off_plan, name="visit-off-plan"),
]
