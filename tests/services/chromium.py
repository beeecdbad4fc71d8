"""The system's own Chromium, driven by Playwright, without calls to anything outside."""

import shutil
from collections.abc import Iterator
from contextlib import contextmanager

from playwright.sync_api import Browser, sync_playwright

NAMES = ("chromium", "chromium-browser", "google-chrome")
FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


def program() -> str | None:
    """The path of an installed Chromium."""
    return next((path for name in NAMES if (path := shutil.which(name))), None)


def missing() -> str | None:
    """Why no browser can be started here, or nothing."""
    return None if program() else "no Chromium is installed"


@contextmanager
def started_chromium() -> Iterator[Browser]:
    """Run Chromium without a window until the block ends."""
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=program(), args=list(FLAGS))
        yield browser
        browser.close()
