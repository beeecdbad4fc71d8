"""The pages that take a fleet folder in, show what it would change, and hand it out."""

from __future__ import annotations

import csv
from collections.abc import Callable
from functools import wraps
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from django.core.exceptions import PermissionDenied
from django.http import FileResponse, Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt, csrf_protect
from django.views.decorators.http import require_GET, require_POST
from django_htmx.http import HttpResponseClientRedirect

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Role
from inspections.forms.fleet_import import BoundedUpload, FleetImportForm
from inspections.services.fleet_folder.beside import (
    EXPORTED,
    Standing,
    Work,
    ended_soon,
    standing_of,
)
from inspections.services.fleet_folder.cells import guarded as safe_for_spreadsheets
from inspections.services.fleet_folder.exporting import (
    export_fleet,
    is_large_fleet,
    write_template,
)
from inspections.services.fleet_folder.tables import TABLES
from inspections.services.fleet_folder.uploads import (
    UploadGoneError,
    folder_of,
    keep_room,
    keep_upload,
    kept_upload,
)
from inspections.tasks import ask_for_folder_work

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


def for_own_upload(view: View) -> View:
    """Let in who sent the upload; what is there no more is said so."""

    @for_the_whole_fleet
    @wraps(view)
    def guarded(request: SignedInRequest, token: str, **kwargs: Any) -> HttpResponseBase:
        try:
            kept_upload(token=token, owner_id=request.user.pk)
        except UploadGoneError:
            return render(request, "inspections/fleet_import_gone.html", status=404)
        return view(request, token, **kwargs)

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


@for_own_upload
@require_GET
def fleet_import_preview(request: SignedInRequest, token: str) -> HttpResponse:
    """Show what an upload would change, and every error; once brought in, what it changed."""
    work = Work.IMPORT if standing_of(token, Work.IMPORT) else Work.CHECK
    standing = standing_of(token, work)
    if work is Work.CHECK and (standing is None or standing.is_ended):
        ask_for_folder_work(token, work, now=timezone.now())
    return _shown(request, token, work)


@for_own_upload
@require_POST
def fleet_import_confirm(request: SignedInRequest, token: str) -> HttpResponse:
    """Bring in what was looked at, or begin anew what came to a stop."""
    work = Work.CHECK if request.POST.get("again") == Work.CHECK else Work.IMPORT
    ask_for_folder_work(token, work, now=timezone.now())
    return _shown(request, token, work)


def _shown(request: SignedInRequest, token: str, work: Work) -> HttpResponse:
    """What came of the work, or how far it is."""
    standing = ended_soon(token, work)
    if not standing.is_ended:
        return render(request, "inspections/fleet_work.html", _how_far(token, work, standing))
    report = standing.report
    shown = report.problems.shown()
    context = {
        "report": report,
        "token": token,
        "problems": shown,
        "is_done": work is Work.IMPORT and not report.refused,
        "more": len(report.problems) - len(shown),
    }
    return render(request, "inspections/fleet_import_preview.html", context)


def _how_far(token: str, work: Work, standing: Standing) -> dict[str, Any]:
    return {
        "token": token,
        "work": work.value,
        "standing": standing,
        "is_stopped": standing.is_stopped(timezone.now()),
    }


@for_own_upload
@require_GET
@never_cache
def fleet_work_progress(request: SignedInRequest, token: str) -> HttpResponse:
    """How far the work `of` is, for the page that waits; once it has ended, where to go on."""
    work = request.GET.get("of", Work.CHECK.value)
    standing = standing_of(token, Work(work)) if work in list(Work) else None
    if standing is None:
        raise Http404
    if standing.is_ended:
        name = "fleet-export-made" if work == Work.EXPORT else "fleet-import-preview"
        return HttpResponseClientRedirect(reverse(name, args=[token]))
    context = _how_far(token, Work(work), standing)
    return render(request, "inspections/_fleet_work.html", context)


@for_own_upload
@require_GET
def fleet_import_errors(_request: SignedInRequest, token: str) -> HttpResponse:
    """Every error of an upload as a table."""
    standing = standing_of(token, Work.IMPORT) or standing_of(token, Work.CHECK)
    if standing is None or not standing.is_ended:
        raise Http404
    response = HttpResponse(content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = 'attachment; filename="errors.csv"'
    writer = csv.writer(response)
    writer.writerow(["file", "row", "column", "value", "rule"])
    writer.writerows(
        (each.file, each.row, each.column, safe_for_spreadsheets(each.value), each.rule)
        for each in standing.report.problems
    )
    return response


@for_the_whole_fleet
@require_GET
def fleet_template(_request: SignedInRequest) -> FileResponse:
    """A fleet folder with headers only."""
    return _download("fleet-template.zip", write_template)


@for_the_whole_fleet
@require_GET
def fleet_export(request: SignedInRequest) -> HttpResponseBase:
    """The whole fleet as a fleet folder: at once, or beside the requests where it is large."""
    if not is_large_fleet():
        return _download(EXPORTED, export_fleet)
    token = keep_room(owner_id=request.user.pk, now=timezone.now())
    ask_for_folder_work(token, Work.EXPORT, now=timezone.now())
    return redirect("fleet-export-made", token)


@for_own_upload
@require_GET
@never_cache
def fleet_export_made(request: SignedInRequest, token: str) -> HttpResponse:
    """How far a large folder is, and where to get it."""
    if standing_of(token, Work.EXPORT) is None:
        raise Http404
    standing = ended_soon(token, Work.EXPORT)
    context = _how_far(token, Work.EXPORT, standing)
    return render(request, "inspections/fleet_work.html", context)


@for_own_upload
@require_GET
def fleet_export_file(_request: SignedInRequest, token: str) -> FileResponse:
    """The folder that was written."""
    path = folder_of(token) / EXPORTED
    if not path.is_file():
        raise Http404
    return FileResponse(path.open("rb"), as_attachment=True, filename=EXPORTED)


def _download(name: str, write: Callable[[Path], object]) -> FileResponse:
    with TemporaryDirectory() as folder:
        path = Path(folder) / name
        write(path)
        # The open file outlives its name; it is gone once the response is sent.
        return FileResponse(path.open("rb"), as_attachment=True, filename=name)
