"""Wait for a condition, not for a time."""

import os
import time
from collections.abc import Callable
from typing import TypeVar

Answer = TypeVar("Answer")
# How many times slower than usual this machine is, where much else runs on it.
SLOWER = float(os.environ.get("FLEETDOORS_TESTS_SLOWER", "1"))


def wait_until(
    ask: Callable[[], Answer], *, what: str, seconds: float = 20.0, every: float = 0.05
) -> Answer:
    """Ask until the answer is true and return it; fail with what was waited for."""
    deadline = time.monotonic() + seconds * SLOWER
    while True:
        answer = ask()
        if answer:
            return answer
        if time.monotonic() > deadline:
            raise TimeoutError(
                f"Waited {seconds * SLOWER:g} s for {what}; the last answer was {answer!r}."
            )
        time.sleep(every)
