"""Addresses of pages for paper and for the wall."""

from django.urls import path

from analytics.views import digest, paper, wall_screen

urlpatterns = [
    path("digest/", digest.digest, name="digest"),
    path("trucks/<key:truck>/record/", paper.truck_record_page, name="truck-record"),
    path("depots/<key:code>/due-sheet/", paper.due_sheet_page, name="due-sheet"),
    path("depots/<key:code>/wall/", wall_screen.wall_screen, name="wall-screen"),
]
