"""Writes whole columns of numbers, words and moments as CSV without a Python object per cell."""

from collections.abc import Mapping
from pathlib import Path
from types import TracebackType
from typing import Any, BinaryIO, Final, Literal

import numpy as np
from numpy.typing import NDArray

UNKNOWN: Final = -1
"""Whole numbers below zero and not-a-time stand for an empty cell."""

_QUOTED: Final = (b",", b'"', b"\n", b"\r")


def text_cells(values: NDArray[Any]) -> NDArray[np.bytes_]:
    """Encode words as UTF-8 cells, quoting the few that need it (RFC 4180)."""
    if values.dtype.kind == "S":
        return values
    words, index = np.unique(values.astype(str), return_inverse=True)
    cells = [quoted(word.encode()) for word in words.tolist()]
    return np.array(cells or [b""], dtype=np.bytes_)[index.reshape(values.shape)]


def quoted(cell: bytes) -> bytes:
    if any(sign in cell for sign in _QUOTED):
        return b'"' + cell.replace(b'"', b'""') + b'"'
    return cell


def integer_cells(values: NDArray[np.integer]) -> NDArray[np.bytes_]:
    """Write whole numbers without leading zeros; a negative one becomes an empty cell."""
    number = np.ascontiguousarray(values, dtype=np.int64)
    width = max(len(str(int(number.max(initial=0)))), 1)
    digits = np.zeros((*number.shape, width), dtype=np.uint8)
    rest = number.copy()
    for place in range(width - 1, -1, -1):
        shown = (rest > 0) | ((place == width - 1) & (number == 0))
        digits[..., place] = np.where(shown, rest % 10 + ord("0"), 0)
        rest //= 10
    # Bytes arrays are padded at the end, the zero bytes in front are dropped by `joined`.
    return digits.view(f"S{width}")[..., 0]


def number_cells(values: NDArray[np.floating]) -> NDArray[np.bytes_]:
    """Write decimals in their shortest form; NaN becomes an empty cell."""
    cells = [b"" if value != value else f"{value:.10g}".encode() for value in values.tolist()]  # noqa: PLR0124
    return np.array(cells or [b""], dtype=np.bytes_)[: len(cells)]


def moment_cells(values: NDArray[Any], unit: Literal["D", "m"]) -> NDArray[np.bytes_]:
    """Write dates (`D`) or moments to the minute (`m`) in ISO 8601; not-a-time is empty."""
    distinct, index = np.unique(values.astype(f"datetime64[{unit}]"), return_inverse=True)
    cells = np.datetime_as_string(distinct, unit=unit).astype(np.bytes_)
    cells[np.isnat(distinct)] = b""
    return cells[index.reshape(values.shape)]


def cells_of(values: NDArray[Any], kind: str) -> NDArray[np.bytes_]:
    if kind == "text":
        return text_cells(values)
    if kind in ("date", "moment"):
        return moment_cells(values, "D" if kind == "date" else "m")
    if values.dtype.kind in "iu":
        return integer_cells(values)
    return number_cells(values)


def joined(columns: list[NDArray[np.bytes_]]) -> bytes:
    """Join columns of cells to CSV lines by laying bytes side by side and dropping the padding."""
    rows = len(columns[0])
    widths = [column.dtype.itemsize for column in columns]
    sheet = np.zeros((rows, sum(widths) + len(widths)), dtype=np.uint8)
    at = 0
    for column, width in zip(columns, widths, strict=True):
        sheet[:, at : at + width] = np.frombuffer(
            np.ascontiguousarray(column).tobytes(), dtype=np.uint8
        ).reshape(rows, width)
        at += width + 1
        sheet[:, at - 1] = ord(",")
    sheet[:, -1] = ord("\n")
    return sheet[sheet != 0].tobytes()


class CsvTable:
    """One CSV file that takes blocks of columns; the file appears with its first row."""

    def __init__(self, path: Path, columns: Mapping[str, str]) -> None:
        self.path = path
        self.columns = dict(columns)
        self.rows = 0
        self._file: BinaryIO | None = None

    def __enter__(self) -> "CsvTable":
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._file is not None:
            self._file.close()

    def append(self, block: Mapping[str, NDArray[np.generic]]) -> None:
        if set(block) != set(self.columns):
            raise ValueError(
                f"{self.path.name} needs exactly the columns {sorted(self.columns)}, "
                f"not {sorted(block)}"
            )
        rows = len(next(iter(block.values())))
        if rows == 0:
            return
        if self._file is None:
            self._file = self.path.open("wb")
            self._file.write((",".join(self.columns) + "\n").encode())
        self._file.write(
            joined([cells_of(block[name], kind) for name, kind in self.columns.items()])
        )
        self.rows += rows
