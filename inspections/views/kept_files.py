"""Kept files as an answer: never run, never guessed, never left in a shared cache."""

from __future__ import annotations

from django.http import FileResponse

from inspections.models import Attachment


def shown_file(row: Attachment) -> FileResponse | None:
    """The file under its title, as what it was when it came in; None where it is missing."""
    try:
        content = row.file.open("rb")
    except FileNotFoundError:
        return None
    suffix = str(row.file.name).rpartition(".")[2]
    response = FileResponse(
        content, content_type=row.content_type, filename=f"{row.title or row.sha256[:12]}.{suffix}"
    )
    response["X-Content-Type-Options"] = "nosniff"
    response["Content-Security-Policy"] = "default-src 'none'; style-src 'unsafe-inline'"
    response["Cache-Control"] = "private, max-age=3600"
    return response
