"""Forms for the documents of a door type."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from inspections.services.documents import DOCUMENT_LIMIT_BYTES


class DocumentForm(forms.Form):
    """A PDF and what it is called."""

    title = forms.CharField(label=_("Title"), max_length=200)
    file = forms.FileField(
        label=_("PDF file"),
        widget=forms.ClearableFileInput(attrs={"accept": "application/pdf"}),
        help_text=_("At most 25 MB. It is kept as it comes."),
    )

    def clean_file(self) -> Any:
        """Refuse a file that is too large before it is read."""
        file = self.cleaned_data["file"]
        if file.size > DOCUMENT_LIMIT_BYTES:
            raise ValidationError(
                _now("A document has at most %(most)d MB: this one has %(size).1f MB.")
                % {"most": DOCUMENT_LIMIT_BYTES // 2**20, "size": file.size / 2**20}
            )
        return file


class WithdrawForm(forms.Form):
    """Why a document is withdrawn."""

    reason = forms.CharField(label=_("Why"), max_length=200)
