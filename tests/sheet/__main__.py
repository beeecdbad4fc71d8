"""Take the contact sheet: `make sheet` photographs every page, and says what is wrong with any.

Tiles and one page of them lie in `.tools/sheet`. What axe finds, what is wider than a phone and
what stands in the browser's console is printed and ends the run with status 1; how long a page
took to answer and to show its largest part is printed only.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from html import escape
from pathlib import Path
from typing import Any

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Page

from tests.services.chromium import started_chromium
from tests.services.pictures import signed_in
from tests.services.processes import ROOT, Installation
from tests.services.web_server import started_web_server
from tests.sheet.fleets import FLEETS, built

SHEET = ROOT / ".tools" / "sheet"
WIDTHS = (390, 768, 1440)
SCHEMES = ("light", "dark")
# A4 upright at 96 dots to the inch, for the pages that people print.
PAPER = 794
PRINTED = {"truck-record", "visit-sheet", "due-sheet", "stock-sheet", "labels", "order-detail"}
TALLEST = 4_000
TOO_WIDE = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
LARGEST = """() => new Promise((done) => {
  new PerformanceObserver((list) => done(list.getEntries().at(-1).startTime))
    .observe({type: "largest-contentful-paint", buffered: true});
  setTimeout(() => done(null), 500);
})"""
WEIGH = "import django; django.setup(); import tests.sheet.pages as pages; pages.main()"
# Only colours differ between the two schemes: the rest is looked at once.
ONLY_COLOURS = {"runOnly": {"type": "rule", "values": ["color-contrast"]}}


@dataclass
class Looked:
    """What came of looking at one page of one fleet."""

    fleet: str
    page: dict[str, Any]
    tiles: list[Path] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)
    paint: float | None = None


def pages_of(installation: Installation) -> dict[str, Any]:
    """Every page of an installation, weighed in a process with its settings."""
    environment = installation.environment | {
        "DJANGO_SETTINGS_MODULE": "fleetdoors.config.settings"
    }
    done = subprocess.run(
        [sys.executable, "-c", WEIGH],
        cwd=ROOT, env=environment, stdout=subprocess.PIPE, text=True, check=True,
    )  # fmt: skip
    found: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    return found


def look(page: Page, address: str, looked: Looked, options: argparse.Namespace) -> None:
    """Photograph one page at every width in both schemes."""
    errors: list[str] = []
    page.on("pageerror", lambda error: errors.append(str(error)))
    page.on("console", lambda said: errors.append(said.text) if said.type == "error" else None)
    page.set_viewport_size({"width": WIDTHS[0], "height": 844})
    page.goto(address + looked.page["url"], wait_until="load")
    looked.paint = page.evaluate(LARGEST)
    for scheme in options.schemes:
        page.emulate_media(color_scheme=scheme)
        for width in options.widths:
            page.set_viewport_size({"width": width, "height": 844})
            looked.wrong += _too_wide(page, width)
            tile = SHEET / looked.fleet / f"{named(looked.page)}-{width}-{scheme}.png"
            _photograph(page, tile)
            looked.tiles.append(tile)
        if not options.no_axe:
            looked.wrong += barriers(page, scheme)
    if looked.page["name"] in PRINTED:
        looked.tiles.append(_on_paper(page, looked))
    looked.wrong += [f"console: {error}" for error in errors]


def named(page: dict[str, Any]) -> str:
    """What a page's files are called; one route may stand for several pages."""
    if page["name"] == "announced-new":
        return f"announced-new-{page['url'].split('/')[-2]}"
    return str(page["name"])


def _too_wide(page: Page, width: int) -> list[str]:
    by = page.evaluate(TOO_WIDE)
    return [f"{by} px wider than {width}"] if by > 0 else []


def _photograph(page: Page, tile: Path) -> None:
    height = min(page.evaluate("document.documentElement.scrollHeight"), TALLEST)
    page.screenshot(
        path=tile,
        full_page=True,
        clip={"x": 0, "y": 0, "width": page.viewport_size["width"], "height": height},  # type: ignore[index]
    )


def _on_paper(page: Page, looked: Looked) -> Path:
    page.emulate_media(media="print", color_scheme="light")
    page.set_viewport_size({"width": PAPER, "height": 1_123})
    tile = SHEET / looked.fleet / f"{named(looked.page)}-paper.png"
    _photograph(page, tile)
    page.pdf(path=tile.with_suffix(".pdf"), format="A4", prefer_css_page_size=True)
    page.emulate_media(media="screen")
    return tile


def barriers(page: Page, scheme: str) -> list[str]:
    """What axe finds at a phone's width."""
    page.set_viewport_size({"width": WIDTHS[0], "height": 844})
    found = Axe().run(page, options=None if scheme == "light" else ONLY_COLOURS)
    return [
        f"axe {each['id']} ({scheme}): {node['html'][:160]}"
        for each in found.response["violations"]
        for node in each["nodes"][:3]
    ]


def look_at_fleet(
    browser: Browser, fleet: str, options: argparse.Namespace
) -> Iterator[tuple[Looked, list[str]]]:
    """Every page of a fleet as the fitting person."""
    installation, password = built(fleet, SHEET / "data" / fleet)
    found = pages_of(installation)
    (SHEET / fleet).mkdir(parents=True, exist_ok=True)
    with started_web_server(installation) as address:
        contexts: dict[str | None, BrowserContext] = {}
        for each in found["pages"]:
            if options.pages and each["name"] not in options.pages:
                continue
            person = each["person"]
            if person not in contexts:
                contexts[person] = signed_in(browser, address, person, password)
            page = contexts[person].new_page()
            looked = Looked(fleet, each)
            look(page, address, looked, options)
            page.close()
            yield looked, found["without"]


def written(looked: list[Looked]) -> Path:
    """One page with every tile, named by what it shows."""
    rows = []
    for each in looked:
        tiles = "".join(
            f'<a href="{tile.relative_to(SHEET)}"><img loading="lazy" height="420" '
            f'src="{tile.relative_to(SHEET)}" alt="{escape(tile.stem)}"></a>'
            for tile in each.tiles
        )
        wrong = "".join(f"<li>{escape(said)}</li>" for said in each.wrong)
        page = each.page
        rows.append(
            f"<section><h2>{escape(each.fleet)}: {escape(page['name'])}</h2>"
            f"<p>{escape(page['url'])}, as {page['person'] or 'a stranger'}</p>"
            f"<ul>{wrong}</ul>{tiles}</section>"
        )
    sheet = SHEET / "index.html"
    head = '<!doctype html><html lang="en"><meta charset="utf-8"><title>Contact sheet</title>'
    sheet.write_text(head + "".join(rows))
    return sheet


def say(looked: Looked) -> None:
    """One line of figures for a page, and one for each thing that is wrong with it."""
    page = looked.page
    paint = "-" if looked.paint is None else f"{looked.paint:.0f}"
    sys.stdout.write(
        f"{looked.fleet:7} {page['name']:24} {page['queries']:4} queries "
        f"{page['kilobytes']:7.1f} kB  server {page['milliseconds']:6.0f} ms  "
        f"largest paint {paint:>5} ms\n"
    )
    for said in looked.wrong:
        sys.stdout.write(f"    {said}\n")
    sys.stdout.flush()


def main() -> int:
    """Look at what is asked for, and write the sheet."""
    parser = argparse.ArgumentParser(prog="make sheet")
    parser.add_argument("--fleets", nargs="+", choices=FLEETS, default=FLEETS)
    parser.add_argument("--widths", nargs="+", type=int, choices=WIDTHS, default=WIDTHS)
    parser.add_argument("--schemes", nargs="+", choices=SCHEMES, default=SCHEMES)
    parser.add_argument("--pages", nargs="+", help="names of routes; all without it")
    parser.add_argument("--no-axe", action="store_true")
    options = parser.parse_args()
    looked: list[Looked] = []
    with started_chromium() as browser:
        for fleet in options.fleets:
            without: list[str] = []
            for each, without in look_at_fleet(browser, fleet, options):  # noqa: B007
                say(each)
                looked.append(each)
            if without and fleet != "empty":
                sys.stdout.write(f"{fleet} has nothing to show for: {', '.join(without)}\n")
    sys.stdout.write(f"{written(looked)}\n")
    return int(any(each.wrong for each in looked))


if __name__ == "__main__":
    sys.exit(main())
