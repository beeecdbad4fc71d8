"""The form that takes a fleet folder from a browser, within a bound."""

from __future__ import annotations

from pathlib import PurePath
from typing import Any

from django import forms
from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile
from django.core.files.uploadhandler import FileUploadHandler, SkipFile
from django.http import HttpRequest
from django.utils.translation import gettext_lazy as _

ARCHIVES = (".zip", ".xlsx")


class BoundedUpload(FileUploadHandler):
    """Stops keeping an upload once it is too large; the rest is read and thrown away.

    Cutting the connection instead would show the person a broken page without a reason.
    """

    def __init__(self, request: HttpRequest) -> None:
        super().__init__(request)
        self.bytes_left = settings.UPLOAD_LIMIT_BYTES

    def receive_data_chunk(self, raw_data: bytes, _start: int) -> bytes:
        self.bytes_left -= len(raw_data)
        if self.bytes_left < 0:
            assert self.request is not None
            self.request.upload_is_too_large = True  # type: ignore[attr-defined]
            raise SkipFile
        return raw_data

    def file_complete(self, _file_size: int) -> UploadedFile | None:
        """Leave the file itself to the next handler."""
        return None


class SeveralFilesInput(forms.ClearableFileInput):
    """A file input that takes several files at once."""

    allow_multiple_selected = True


class SeveralFilesField(forms.FileField):
    """One or more uploaded files."""

    widget = SeveralFilesInput

    def clean(self, data: Any, _initial: Any = None) -> list[UploadedFile]:
        """Check each file, and whether they belong together."""
        files = data if isinstance(data, list | tuple) else [data]
        cleaned: list[UploadedFile] = [super(SeveralFilesField, self).clean(f) for f in files]
        endings = {PurePath(file.name or "").suffix.lower() for file in cleaned if file}
        if endings == {".csv"} or (len(cleaned) == 1 and endings & set(ARCHIVES)):
            return cleaned
        raise ValidationError(_("Choose one .zip, one .xlsx, or .csv files of one folder."))


class FleetImportForm(forms.Form):
    """The files of a fleet folder."""

    upload = SeveralFilesField(
        label=_("Fleet folder"),
        help_text=_("One .zip, one .xlsx workbook, or all .csv files of a folder; at most 50 MB."),
    )

    def refuse_large(self) -> None:
        """Say that the upload went beyond the bound."""
        most = settings.UPLOAD_LIMIT_BYTES >> 20
        self.errors.pop("upload", None)
        self.add_error(
            "upload",
            _(
                "This is larger than the %(most)d MB that a browser may send. Import it with the "
                "command import_fleet, or send fewer tables at once."
            )
            % {"most": most},
        )
