"""Reads the rows of a CSV file, and no more bytes than were agreed."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from contextlib import AbstractContextManager
from types import TracebackType
from typing import IO

from django.utils.translation import gettext as _

from inspections.services.fleet_folder.errors import SourceRefusedError
from inspections.services.fleet_folder.limits import Limits

UTF_16 = (b"\xff\xfe", b"\xfe\xff")


class Metered(io.RawIOBase):
    """A stream that ends with a refusal when it yields more than was agreed."""

    def __init__(self, name: str, stream: IO[bytes], most: int) -> None:
        self.name = name
        self.stream = stream
        self.most = most
        self.left = most

    def readable(self) -> bool:
        return True

    def readinto(self, buffer) -> int:  # type: ignore[no-untyped-def]
        block = self.stream.read(len(buffer))
        self.left -= len(block)
        if self.left < 0:
            raise SourceRefusedError(
                self.name, _("is larger than %(most)d MB") % {"most": self.most >> 20}
            )
        buffer[: len(block)] = block
        return len(block)


class CsvRows(AbstractContextManager[Iterator[Sequence[str]]]):
    """The rows of a CSV file; bytes that are no UTF-8 survive as surrogates for a later word."""

    def __init__(self, name: str, stream: IO[bytes], limits: Limits) -> None:
        self.name = name
        self.stream = stream
        metered = io.BufferedReader(Metered(name, stream, limits.unpacked_bytes), 1 << 18)
        self.is_utf_16 = metered.peek(2)[:2] in UTF_16
        self.text = io.TextIOWrapper(
            metered, encoding="utf-8-sig", errors="surrogateescape", newline=""
        )

    def __enter__(self) -> Iterator[Sequence[str]]:
        if self.is_utf_16:
            raise SourceRefusedError(self.name, _("is not UTF-8 but UTF-16; save it as UTF-8"))
        return csv.reader(self.text, strict=True)

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.text.close()
        self.stream.close()
