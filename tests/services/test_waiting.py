"""Waiting ends with the answer, or with a sentence that says what was waited for."""

from itertools import count

import pytest

from tests.services.waiting import wait_until


def test_wait_until_returns_the_first_true_answer() -> None:
    numbers = count()
    assert wait_until(lambda: next(numbers), what="a number above zero", every=0) == 1


def test_wait_until_says_what_did_not_come() -> None:
    with pytest.raises(TimeoutError, match=r"Waited 0 s for a bus; the last answer was None\."):
        wait_until(lambda: None, what="a bus", seconds=0)
