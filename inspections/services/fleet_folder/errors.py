"""What is wrong with a fleet folder: where, what stands there, and which rule it breaks."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from django.utils.functional import Promise

Words = str | Promise
SHOWN_PER_FILE = 200


@dataclass(frozen=True)
class Problem:
    """A broken rule; rows count as a spreadsheet does, so that the header is row 1."""

    file: str
    row: int | None
    column: str
    value: str
    rule: str

    def __str__(self) -> str:
        place = ", ".join(
            part for part in (self.file, f"row {self.row}" if self.row else "", self.column) if part
        )
        shown = f" ({self.value})" if self.value else ""
        return f"{place}: {self.rule}{shown}" if place else f"{self.rule}{shown}"


class Problems:
    """Every problem found; the first hundred thousand are kept, all are counted."""

    KEPT = 100_000

    def __init__(self) -> None:
        self._kept: list[Problem] = []
        self.by_file: Counter[str] = Counter()

    @classmethod
    def of(cls, kept: Iterable[Problem], by_file: Mapping[str, int]) -> Problems:
        """Problems that were found and counted before."""
        problems = cls()
        problems._kept = list(kept)
        problems.by_file = Counter(by_file)
        return problems

    def __bool__(self) -> bool:
        return bool(self.by_file)

    def __len__(self) -> int:
        return self.by_file.total()

    def __iter__(self) -> Iterator[Problem]:
        return iter(self._kept)

    def add(
        self,
        file: str,
        rule: Words,
        *,
        row: int | None = None,
        column: str = "",
        value: object = "",
    ) -> None:
        """Note a problem."""
        self.by_file[file] += 1
        if len(self._kept) < self.KEPT:
            self._kept.append(Problem(file, row, column, printable(value), str(rule)))

    def shown(self, per_file: int = SHOWN_PER_FILE) -> list[Problem]:
        """The first problems of each file, in the order of the rows."""
        taken: defaultdict[str, int] = defaultdict(int)
        chosen = []
        for problem in sorted(self._kept, key=lambda each: (each.file, each.row or 0)):
            taken[problem.file] += 1
            if taken[problem.file] <= per_file:
                chosen.append(problem)
        return chosen


def printable(value: object) -> str:
    """The value cut to a readable length; what is no character is shown as its bytes."""
    text = "" if value is None else str(value)
    text = text if len(text) <= 80 else text[:79] + "…"
    return text.encode("utf-8", "backslashreplace").decode()


class SourceRefusedError(Exception):
    """The folder, archive or workbook cannot be read at all."""

    def __init__(self, file: str, rule: Words) -> None:
        super().__init__(str(rule))
        self.file = file
        self.rule = rule
