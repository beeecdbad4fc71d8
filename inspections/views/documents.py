"""Pages of the documents of a door type: read by everyone signed in, kept by planners."""

from __future__ import annotations

from django.http import FileResponse, Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import DoorModel, Role
from inspections.forms.document import DocumentForm, WithdrawForm
from inspections.models import Attachment
from inspections.services.attachments import AttachmentRefusedError, Received
from inspections.services.documents import add_document, withdraw_document
from inspections.views.kept_files import shown_file


@open_to()
def document_list(request: SignedInRequest, code: str) -> HttpResponse:
    """What is on the shelf for a door type, and what lay there before."""
    door_model = get_object_or_404(DoorModel, code=code)
    context = {
        "door_model": door_model,
        "documents": Attachment.objects.documents_of(door_model).select_related("entered_by"),
        "before": Attachment.objects.documents_before(door_model),
        "may_write": request.user.has_any_role(Role.PLANNER),
    }
    return render(request, "inspections/document_list.html", context)


@open_to(Role.PLANNER)
def document_new(request: SignedInRequest, code: str) -> HttpResponse:
    """Put a PDF on the shelf of a door type."""
    door_model = get_object_or_404(DoorModel, code=code)
    form = DocumentForm(request.POST or None, request.FILES or None)
    if form.is_valid() and _added(request, door_model, form, None):
        return redirect("document-list", door_model.code)
    context = {"form": form, "door_model": door_model, "replaced": None}
    return render(request, "inspections/document_new.html", context)


@open_to(Role.PLANNER)
def document_replace(request: SignedInRequest, pk: int) -> HttpResponse:
    """Put a newer PDF in the place of one, which stays on record."""
    document = _in_force(pk)
    door_model = document.door_model
    form = DocumentForm(
        request.POST or None, request.FILES or None, initial={"title": document.title}
    )
    if form.is_valid() and door_model and _added(request, door_model, form, document):
        return redirect("document-list", door_model.code)
    context = {"form": form, "door_model": door_model, "replaced": document}
    return render(request, "inspections/document_new.html", context)


@open_to(Role.PLANNER)
def document_withdraw(request: SignedInRequest, pk: int) -> HttpResponse:
    """Take a document from the shelf, with a reason."""
    document = _in_force(pk)
    door_model = document.door_model
    form = WithdrawForm(request.POST or None)
    if form.is_valid() and door_model:
        withdraw_document(
            document=document,
            withdrawn_at=timezone.now(),
            withdrawn_by=request.user,
            **form.cleaned_data,
        )
        return redirect("document-list", door_model.code)
    context = {"form": form, "document": document}
    return render(request, "inspections/document_withdraw.html", context)


@open_to()
def document_file(_request: SignedInRequest, pk: int) -> FileResponse:
    """A document as it came in, also one that gave way."""
    row = get_object_or_404(Attachment, pk=pk, door_model__isnull=False)
    response = shown_file(row)
    if response is None:
        raise Http404
    return response


def _in_force(pk: int) -> Attachment:
    rows = Attachment.objects.filter(door_model__isnull=False, withdrawn_at__isnull=True)
    return get_object_or_404(rows.select_related("door_model"), pk=pk)


def _added(
    request: SignedInRequest, door_model: DoorModel, form: DocumentForm, replaces: Attachment | None
) -> bool:
    """Whether the document is kept; if not, the form says why."""
    now = timezone.now()
    try:
        add_document(
            door_model=door_model,
            title=form.cleaned_data["title"],
            content=form.cleaned_data["file"].read(),
            received=Received(taken_at=now, entered_at=now, entered_by=request.user),
            replaces=replaces,
        )
    except AttachmentRefusedError as refused:
        form.add_error(None, str(refused))
        return False
    return True
