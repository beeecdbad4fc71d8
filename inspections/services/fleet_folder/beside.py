"""Long work on a fleet folder beside the requests: checking, bringing in, writing out.

What is asked for, how far it has come and what came of it stand in a file next to the upload, in
the folder of uploads that all hosts share. Not in the database: there it would be seen when the
import's one transaction ends, and not before.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field, replace
from datetime import datetime, timedelta
from enum import StrEnum
from pathlib import Path
from threading import Event, Thread
from time import monotonic, sleep, time
from typing import Any

from django.utils.translation import override

from inspections.services.fleet_folder.errors import Problem, Problems
from inspections.services.fleet_folder.exporting import export_fleet
from inspections.services.fleet_folder.importing import Report, check_fleet, import_fleet
from inspections.services.fleet_folder.limits import BROWSER_LIMITS
from inspections.services.fleet_folder.outcomes import TableCount
from inspections.services.fleet_folder.uploads import content_of, folder_of

# A worker says every second that it is at work; after so long without a word it was killed.
SILENCE = timedelta(seconds=90)
EVERY_SECONDS = 1.0
CHECK_HOLDS = timedelta(minutes=10)
# So long a page waits for work that may be done at once.
WAIT_SECONDS = 1.0
EXPORTED = "fleet.zip"


class Work(StrEnum):
    """What is done with a folder."""

    CHECK = "check"
    IMPORT = "import"
    EXPORT = "export"


@dataclass(frozen=True)
class Standing:
    """How a piece of work stands; moments are seconds since 1970, `total` None = not known."""

    asked_at: float
    language: str = "en"
    heard_at: float = 0.0
    label: str = ""
    done: int = 0
    total: int | None = None
    ended_at: float | None = None
    failed: bool = False
    counts: list[dict[str, Any]] = field(default_factory=list)
    problems: list[list[Any]] = field(default_factory=list)
    problems_by_file: dict[str, int] = field(default_factory=dict)

    @property
    def is_ended(self) -> bool:
        """Whether there is something to show."""
        return self.ended_at is not None and not self.failed

    def is_stopped(self, now: datetime) -> bool:
        """Whether it failed, or nothing was heard of it for too long."""
        last = max(self.asked_at, self.heard_at)
        silent = self.ended_at is None and now.timestamp() - last > SILENCE.total_seconds()
        return self.failed or silent

    @property
    def report(self) -> Report:
        """What a check or an import found."""
        problems = Problems.of((Problem(*row) for row in self.problems), self.problems_by_file)
        return Report(tuple(TableCount(**row) for row in self.counts), problems)


def standing_of(token: str, work: Work) -> Standing | None:
    """How the work stands; None where nobody asked for it."""
    try:
        return Standing(**json.loads(_file(token, work).read_text()))
    except FileNotFoundError:
        return None


def note_asked(token: str, work: Work, *, now: datetime, language: str) -> bool:
    """Note that the work is asked for; False where it is under way or done already.

    A check is done again after ten minutes: the record goes on meanwhile.
    """
    standing = standing_of(token, work)
    if standing is not None and not standing.is_stopped(now):
        ended = standing.ended_at
        is_old = ended is not None and now.timestamp() - ended > CHECK_HOLDS.total_seconds()
        if work is not Work.CHECK or not is_old:
            return False
    _write(token, work, Standing(asked_at=now.timestamp(), language=language))
    return True


def ended_soon(token: str, work: Work) -> Standing:
    """How work that was asked for stands, waiting a moment for it to end."""
    until = monotonic() + WAIT_SECONDS
    standing = standing_of(token, work)
    assert standing is not None
    while standing.ended_at is None and monotonic() < until:
        sleep(WAIT_SECONDS / 20)
        standing = standing_of(token, work) or standing
    return standing


def do_work(token: str, work: Work, *, now: datetime) -> bool:
    """Do what was asked for, unless it was done; whether this call did it.

    An import that is done a second time changes nothing.
    """
    standing = standing_of(token, work)
    if standing is None or standing.ended_at is not None:
        return False
    teller = Teller(token, work, standing)
    try:
        with override(standing.language), teller.telling():
            found = _done(token, work, now, teller)
    except Exception:
        _write(token, work, replace(teller.standing, ended_at=time(), failed=True))
        raise
    _write(token, work, replace(teller.standing, ended_at=time(), **found))
    return True


def _done(token: str, work: Work, now: datetime, teller: Teller) -> dict[str, Any]:
    if work is Work.EXPORT:
        half = folder_of(token) / f"half-{EXPORTED}"
        export_fleet(half, progress=teller)
        half.replace(folder_of(token) / EXPORTED)
        return {}
    act = check_fleet if work is Work.CHECK else import_fleet
    report = act(content_of(token), now=now, limits=BROWSER_LIMITS, progress=teller)
    return {
        "counts": [each.as_row() for each in report.counts],
        "problems": [list(asdict(each).values()) for each in report.problems],
        "problems_by_file": dict(report.problems.by_file),
    }


class Teller:
    """Hears how far the work is, and writes it down each second, also while nothing moves."""

    def __init__(self, token: str, work: Work, standing: Standing) -> None:
        self.token, self.work, self.standing = token, work, standing
        self._is_over = Event()

    def begin(self, label: str, total: int | None) -> None:
        """A stage starts."""
        self.standing = replace(self.standing, label=str(label), done=0, total=total)
        self._tell()

    def advance(self, rows: int) -> None:
        """So many more rows are done."""
        self.standing = replace(self.standing, done=self.standing.done + rows)

    @contextmanager
    def telling(self) -> Iterator[None]:
        """Write down how the work stands until the block ends."""
        self._tell()
        thread = Thread(target=self._keep_telling, name="telling", daemon=True)
        thread.start()
        try:
            yield
        finally:
            self._is_over.set()
            thread.join()

    def _keep_telling(self) -> None:
        while not self._is_over.wait(EVERY_SECONDS):
            self._tell()

    def _tell(self) -> None:
        _write(self.token, self.work, replace(self.standing, heard_at=time()))


def _file(token: str, work: Work) -> Path:
    return folder_of(token) / f"{work}.json"


def _write(token: str, work: Work, standing: Standing) -> None:
    """Put the file in place in one step: whoever reads sees the old one or the new one."""
    path = _file(token, work)
    half = path.with_suffix(f".{os.getpid()}-{id(standing)}")
    half.write_text(json.dumps(asdict(standing)))
    half.replace(path)
