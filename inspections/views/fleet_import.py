"""The pages that take a fleet folder in, show what it would change, and hand it out."""

from __future__ import annotations

import csv
from collections.abc import Callable
from functools import wraps
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from django.core.exceptions import PermissionDenied
from django.http import FileResponse, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.csrf import csrf_exempt, csrf_protect
from django.views.decorators.http import require_GET, require_POST

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Role
from inspections.forms.fleet_import import BoundedUpload, FleetImportForm
from inspections.services.fleet_folder.cells import guarded as safe_for_spreadsheets
from inspections.services.fleet_folder.exporting import export_fleet, write_template
from inspections.services.fleet_folder.importing import Report, check_fleet, import_fleet
from inspections.services.fleet_folder.limits import BROWSER_LIMITS
from inspections.services.fleet_folder.tables import TABLES
from inspections.services.fleet_folder.uploads import UploadGoneError, keep_upload, kept_upload

View = Callable[..., HttpResponseBase]


def for_the_whole_fleet(view: View) -> View:
    """Let in planners who see every depot: a folder holds all of them."""

    @open_to(Role.PLANNER)
    @wraps(view)
    def guarded(request: SignedInRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        if not request.user.is_superuser and request.user.depots.exists():
            raise PermissionDenied(
                _("A fleet folder holds every depot; you look after some of them.")
            )
        return view(request, *args, **kwargs)

    return guarded


@csrf_exempt
@for_the_whole_fleet
def fleet_import(request: SignedInRequest) -> HttpResponse:
    """Bound the upload before anything reads it; the inner view then checks its origin."""
    request.upload_handlers.insert(0, BoundedUpload(request))
    return _take_upload(request)


@csrf_protect
def _take_upload(request: SignedInRequest) -> HttpResponse:
    form = FleetImportForm(request.POST or None, request.FILES or None)
    status = 200
    if request.method == "POST":
        form = FleetImportForm(request.POST, request.FILES)
        if getattr(request, "upload_is_too_large", False):
            form.refuse_large()
            status = 413
        elif form.is_valid():
            files = form.cleaned_data["upload"]
            owner_id = request.user.pk
            token = keep_upload(files=files, owner_id=owner_id, now=timezone.now())
            return redirect("fleet-import-preview", token)
    context = {"form": form, "tables": TABLES}
    return render(request, "inspections/fleet_import.html", context, status=status)


@for_the_whole_fleet
@require_GET
def fleet_import_preview(request: SignedInRequest, token: str) -> HttpResponse:
    """Show what an upload would change, and every error."""
    return _on_upload(request, token, check_fleet, is_done=False)


@for_the_whole_fleet
@require_POST
def fleet_import_confirm(request: SignedInRequest, token: str) -> HttpResponse:
    """Import what was looked at."""
    return _on_upload(request, token, import_fleet, is_done=True)


def _on_upload(
    request: SignedInRequest, token: str, act: Callable[..., Report], *, is_done: bool
) -> HttpResponse:
    try:
        path = kept_upload(token=token, owner_id=request.user.pk)
    except UploadGoneError:
        return render(request, "inspections/fleet_import_gone.html", status=404)
    report = act(path, now=timezone.now(), limits=BROWSER_LIMITS)
    shown = report.problems.shown()
    context = {
        "report": report,
        "token": token,
        "problems": shown,
        "is_done": is_done and not report.refused,
        "more": len(report.problems) - len(shown),
    }
    return render(request, "inspections/fleet_import_preview.html", context)


@for_the_whole_fleet
@require_GET
def fleet_import_errors(request: SignedInRequest, token: str) -> HttpResponse:
    """Every error of an upload as a table."""
    try:
        path = kept_upload(token=token, owner_id=request.user.pk)
    except UploadGoneError:
        return render(request, "inspections/fleet_import_gone.html", status=404)
    report = check_fleet(path, now=timezone.now(), limits=BROWSER_LIMITS)
    response = HttpResponse(content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = 'attachment; filename="errors.csv"'
    writer = csv.writer(response)
    writer.writerow(["file", "row", "column", "value", "rule"])
    writer.writerows(
        (each.file, each.row, each.column, safe_for_spreadsheets(each.value), each.rule)
        for each in report.problems
    )
    return response


@for_the_whole_fleet
@require_GET
def fleet_template(_request: SignedInRequest) -> FileResponse:
    """A fleet folder with headers only."""
    return _download("fleet-template.zip", write_template)


@for_the_whole_fleet
@require_GET
def fleet_export(_request: SignedInRequest) -> FileResponse:
    """The whole fleet as a fleet folder."""
    return _download("fleet.zip", export_fleet)


def _download(name: str, write: Callable[[Path], object]) -> FileResponse:
    with TemporaryDirectory() as folder:
        path = Path(folder) / name
        write(path)
        # The open file outlives its name; it is gone once the response is sent.
        return FileResponse(path.open("rb"), as_attachment=True, filename=name)
