"""Addresses of what happened."""

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
