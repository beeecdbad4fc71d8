"""Addresses of what it means."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
