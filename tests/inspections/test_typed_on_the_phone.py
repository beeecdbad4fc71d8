"""The phone and the server judge a typed value alike, from the same figures."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from random import Random
from typing import Any

import pytest
from playwright.sync_api import Browser, Page

from inspections.tracing.as_json import typed_values_as_json
from inspections.typed_values import BOUNDS, check_typed

pytestmark = pytest.mark.browser

SCRIPT = Path(__file__).parents[2] / "inspections" / "static" / "inspections" / "typed.js"
VALUES_EACH = 400
CHECK = """({typedValues, asked}) => asked.map(([quantity, value, supply]) =>
  fleetdoorsTyped.check(typedValues, quantity, value, supply))"""


@pytest.fixture(scope="module")
def page(browser: Browser) -> Iterator[Page]:
    with browser.new_context() as context:
        opened = context.new_page()
        opened.evaluate(SCRIPT.read_text())
        yield opened


def asked() -> list[list[Any]]:
    """Values around every bound of every quantity, and far from all of them."""
    random = Random(20261126)
    found: list[list[Any]] = []
    for quantity, bounds in BOUNDS.items():
        edges = [
            each
            for band in (bounds.usual, bounds.soft, bounds.hard)
            for each in band
            if each != float("inf")
        ]
        for supply in (12.0, 24.0):
            found += [[quantity, edge, supply] for edge in edges]
            found += [
                [quantity, random.choice(edges) * random.choice((1, 2, 10, 0.1)) + shift, supply]
                for _number in range(VALUES_EACH)
                for shift in (round(random.uniform(-3, 3), 2),)
            ]
    return found


def test_the_phone_judges_what_is_typed_as_the_server_does(page: Page) -> None:
    values = asked()
    data = json.loads(json.dumps(typed_values_as_json()))
    verdicts = page.evaluate(CHECK, {"typedValues": data, "asked": values})
    seen = set()
    for (quantity, value, supply), there in zip(values, verdicts, strict=True):
        here = check_typed(quantity, value, supply)
        seen.add(here.verdict)
        assert there["verdict"] == here.verdict, (quantity, value, supply)
        assert there["suggestion"] == here.suggestion, (quantity, value, supply)
        high = None if here.high == float("inf") else here.high
        assert (there["low"], there["high"]) == (here.low, high)
    assert len(seen) == 3
    assert len(values) > 10_000


def test_what_is_no_number_is_impossible(page: Page) -> None:
    data = typed_values_as_json()
    said = page.evaluate(
        "(typedValues) => [NaN, Infinity].map((each) => "
        "fleetdoorsTyped.check(typedValues, 'seconds', each).verdict)",
        data,
    )
    assert said == ["impossible", "impossible"]
