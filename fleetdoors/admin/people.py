"""People: one role each, and the depots they see."""

# ruff: noqa: ARG002  Django's admin hands its methods more than each needs.

from __future__ import annotations

from django.contrib import admin
from django.contrib.auth.admin import UserAdmin
from django.contrib.auth.models import Group
from django.forms import ModelForm
from django.http import HttpRequest
from django.utils.translation import gettext_lazy as _

from fleetdoors.admin.registry import is_administrator
from fleetdoors.models import Role, User

admin.site.unregister(Group)  # what a person may do follows from the role alone
admin.site.site_header = _("The registry")
admin.site.site_title = _("The registry")
admin.site.index_title = _("What is kept by form")


@admin.register(User)
class PersonAdmin(UserAdmin):
    list_display = ("username", "first_name", "last_name", "role", "is_active")
    list_filter = ("role", "is_active", "depots")
    filter_horizontal = ("depots",)
    fieldsets = (
        (None, {"fields": ("username", "password", "first_name", "last_name", "email")}),
        (_("What this person does"), {"fields": ("role", "depots", "is_active")}),
        (_("Seen"), {"fields": ("last_login", "date_joined")}),
    )
    add_fieldsets = (
        (None, {"fields": ("username", "usable_password", "password1", "password2", "role",
                           "depots")}),
    )  # fmt: skip
    readonly_fields = ("last_login", "date_joined")

    def has_module_permission(self, request: HttpRequest) -> bool:
        return is_administrator(request)

    def has_view_permission(self, request: HttpRequest, obj: User | None = None) -> bool:
        return is_administrator(request)

    def has_add_permission(self, request: HttpRequest) -> bool:
        return is_administrator(request)

    def has_change_permission(self, request: HttpRequest, obj: User | None = None) -> bool:
        """A superuser is changed by a superuser alone."""
        guarded = obj is not None and obj.is_superuser and not request.user.is_superuser
        return is_administrator(request) and not guarded

    def has_delete_permission(self, request: HttpRequest, obj: User | None = None) -> bool:
        """A person who leaves is made inactive: what they recorded keeps its author."""
        return False

    def save_model(self, request: HttpRequest, obj: User, form: ModelForm, change: bool) -> None:
        obj.is_staff = obj.is_superuser or obj.role == Role.ADMINISTRATOR
        super().save_model(request, obj, form, change)
