"""What a backup keeps: every table of the program, and of a table the rows worth keeping."""

from __future__ import annotations

from django.apps import apps
from django.db import models

# Attempts to sign in and their addresses are no part of the record; sessions live in cookies.
LEFT_OUT_APPS = ("axes", "sessions")


def kept_models() -> list[type[models.Model]]:
    """Every table, with those that join two others, in an order that never changes."""
    found = [
        model
        for model in apps.get_models(include_auto_created=True)
        if model._meta.managed
        and not model._meta.proxy
        and model._meta.app_label not in LEFT_OUT_APPS
    ]
    return sorted(found, key=lambda model: model._meta.label)


def kept_fields(model: type[models.Model]) -> list[models.Field]:
    """The columns of a table that somebody writes."""
    return [each for each in model._meta.concrete_fields if not getattr(each, "generated", False)]


def kept_rows(model: type[models.Model]) -> models.QuerySet:
    """The rows of a table; a table whose QuerySet says which are worth keeping is asked."""
    rows = model._default_manager.all()
    chosen = getattr(rows, "kept_in_backup", rows.all)()
    found: models.QuerySet = chosen.order_by("pk")
    return found
