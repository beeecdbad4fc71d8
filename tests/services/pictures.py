"""Take the README's pictures anew: `make pictures` serves the demo and photographs its pages."""

import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

from playwright.sync_api import Browser, BrowserContext, ViewportSize

from tests.services.chromium import started_chromium
from tests.services.processes import ROOT, Installation
from tests.services.web_server import started_web_server

PICTURES = ROOT / "fixtures" / "pictures"
DESK = ViewportSize(width=1280, height=820)
PHONE = ViewportSize(width=390, height=780)


@dataclass(frozen=True)
class Picture:
    """A page as one person sees it at one width, once a button was pressed if one is named."""

    name: str
    person: str
    path: str
    viewport: ViewportSize
    press: str = ""


WANTED = (
    Picture("today", "planner", "/", DESK),
    Picture("due", "planner", "/due/", DESK),
    Picture("door", "planner", "/doors/RD0017/", ViewportSize(width=1280, height=1560)),
    Picture("why", "planner", "/due/RD0188/COI/", DESK),
    Picture("life", "planner", "/reliability/coil_cable/", DESK),
    Picture("parts", "buyer", "/parts/", DESK),
    Picture(
        "schedule",
        "planner",
        "/schedule/",
        ViewportSize(width=1280, height=1480),
        press="Propose a plan",
    ),
    Picture("order", "buyer", "/order-today/", DESK),
    Picture("reading", "technician", "/doors/RD0017/reading/", PHONE),
    Picture("round", "technician", "/round/", PHONE),
)


def signed_in(
    browser: Browser,
    address: str,
    person: str | None,
    password: str,
    viewport: ViewportSize = DESK,
) -> BrowserContext:
    """A browser's profile in which a person is signed in, or nobody."""
    context = browser.new_context(viewport=viewport)
    if person is not None:
        page = context.new_page()
        page.goto(f"{address}/sign-in/")
        page.fill("[name=username]", person)
        page.fill("[name=password]", password)
        page.click("form.stack button[type=submit]")
        page.close()
    return context


def take(browser: Browser, address: str, password: str, picture: Picture) -> None:
    """Sign in as the person and photograph the top of the page."""
    context = signed_in(browser, address, picture.person, password, picture.viewport)
    page = context.new_page()
    page.goto(address + picture.path)
    if picture.press:
        page.get_by_role("button", name=picture.press).click()
    page.wait_for_load_state("networkidle")
    page.screenshot(path=PICTURES / f"{picture.name}.png")
    context.close()


def main() -> None:
    """Make the demo in a folder of its own, serve it, take every picture."""
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        installation = Installation(Path(folder), {"DEMO": "true"})
        installation.do("demo", "--no-serve")
        password = (Path(folder) / "demo_password").read_text().strip()
        with started_web_server(installation) as address, started_chromium() as browser:
            for picture in WANTED:
                take(browser, address, password, picture)
                sys.stdout.write(f"{PICTURES / picture.name}.png\n")


if __name__ == "__main__":
    main()
