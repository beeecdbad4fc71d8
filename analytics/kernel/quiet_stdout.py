"""Keep what a solver prints by itself out of the program's own output."""

from __future__ import annotations

import os
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager

_STDOUT = 1
_LOCK = threading.Lock()
_KEPT: list[int] = []
_INSIDE: list[None] = []


@contextmanager
def quiet_stdout() -> Iterator[None]:
    """Send the process's standard output nowhere until the last of those inside has left.

    Returns
    -------
    context manager

    Notes
    -----
    The lines come from compiled code, past ``sys.stdout``, so that the file descriptor itself must
    be turned away. Solvers may run in several threads: the first turns it away, the last back.
    """
    with _LOCK:
        _INSIDE.append(None)
        if len(_INSIDE) == 1:
            _turn_away()
    try:
        yield
    finally:
        with _LOCK:
            _INSIDE.pop()
            if not _INSIDE:
                _turn_back()


def _turn_away() -> None:
    sys.stdout.flush()
    _KEPT.append(os.dup(_STDOUT))
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, _STDOUT)
    os.close(nowhere)


def _turn_back() -> None:
    kept = _KEPT.pop()
    os.dup2(kept, _STDOUT)
    os.close(kept)
