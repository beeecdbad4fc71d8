"""What every registry form obeys: for administrators, nothing deleted, old values kept."""

# ruff: noqa: ARG002  Django's admin hands its methods more than each needs.

from __future__ import annotations

from typing import Any

from django.contrib import admin
from django.db.models import Model, QuerySet
from django.forms import ModelForm
from django.http import HttpRequest

from fleetdoors.models import Role


def is_administrator(request: HttpRequest) -> bool:
    """Whether the person keeps the registry; a superuser does too."""
    user = request.user
    return user.is_authenticated and user.is_active and user.has_any_role(Role.ADMINISTRATOR)


class RegistryAdmin(admin.ModelAdmin):
    """Forms for what we have; a change writes the old value into the row's history."""

    list_per_page = 50
    show_full_result_count = False

    def has_module_permission(self, request: HttpRequest) -> bool:
        return is_administrator(request)

    def has_view_permission(self, request: HttpRequest, obj: Model | None = None) -> bool:
        return is_administrator(request)

    def has_add_permission(self, request: HttpRequest) -> bool:
        return is_administrator(request)

    def has_change_permission(self, request: HttpRequest, obj: Model | None = None) -> bool:
        return is_administrator(request)

    def has_delete_permission(self, request: HttpRequest, obj: Model | None = None) -> bool:
        return False

    def construct_change_message(
        self, request: HttpRequest, form: Any, formsets: Any, add: bool = False
    ) -> Any:
        usual = super().construct_change_message(request, form, formsets, add)
        if add or not form.changed_data:
            return usual
        told = [f"{_label(form, name)}: {_old(form, name)} → {_new(form, name)}"
                for name in form.changed_data]  # fmt: skip
        inlines = [message for message in usual if "name" in next(iter(message.values()))]
        return "; ".join([*told, *(str(message) for message in inlines)])


class RegistryInline(admin.TabularInline):
    """Rows on the page of what they belong to."""

    extra = 0

    def has_view_permission(self, request: HttpRequest, obj: Model | None = None) -> bool:
        return is_administrator(request)

    def has_add_permission(self, request: HttpRequest, obj: Model | None = None) -> bool:
        return is_administrator(request)

    def has_change_permission(self, request: HttpRequest, obj: Model | None = None) -> bool:
        return is_administrator(request)

    def has_delete_permission(self, request: HttpRequest, obj: Model | None = None) -> bool:
        return False


class RecordAdmin(RegistryAdmin):
    """Events are looked at here and corrected on their own pages."""

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Model | None = None) -> bool:
        return False


def _label(form: ModelForm, name: str) -> str:
    return str(form.fields[name].label or name)


def _old(form: ModelForm, name: str) -> str:
    return _words(form.get_initial_for_field(form.fields[name], name))


def _new(form: ModelForm, name: str) -> str:
    value = form.cleaned_data.get(name)
    if isinstance(value, Model):
        return str(value.pk)
    return _words(list(value) if isinstance(value, QuerySet) else value)


def _words(value: object) -> str:
    """A value as the history tells it; rows by their number, as the form's initial holds them."""
    if isinstance(value, (list, tuple)):
        return ", ".join(str(getattr(item, "pk", item)) for item in value) or "–"
    return "–" if value in (None, "") else str(value)
