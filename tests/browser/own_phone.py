"""A phone of its own: a Chromium with a profile that outlives it, and that can be killed."""

from __future__ import annotations

import signal
import subprocess
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from django.conf import settings
from django.test import Client
from playwright.sync_api import BrowserContext, Page, Playwright, sync_playwright

from fleetdoors.models import User
from tests.services.chromium import FLAGS, program
from tests.services.waiting import wait_until

PHONE = {"width": 390, "height": 844}


@dataclass
class OwnPhone:
    """A running Chromium with its profile on disk; `page` is the only tab."""

    profile: Path
    site: str
    playwright: Playwright
    process: subprocess.Popen[bytes]
    context: BrowserContext
    page: Page
    errors: list[str] = field(default_factory=list)

    def sign_in(self, person: User) -> None:
        """Put a session of the person into the browser, as the sign-in page would."""
        client = Client()
        client.force_login(person)
        session = client.cookies[settings.SESSION_COOKIE_NAME].value
        self.context.add_cookies(
            [{"name": settings.SESSION_COOKIE_NAME, "value": session, "url": self.site}]
        )

    def lose_session(self) -> None:
        """What a session that has run out looks like from here."""
        self.context.clear_cookies(name=settings.SESSION_COOKIE_NAME)

    def lose_signal(self) -> None:
        self.context.set_offline(True)

    def find_signal(self) -> None:
        self.context.set_offline(False)

    def kill(self) -> None:
        """End it as an empty battery does: without a word to any page."""
        self.process.send_signal(signal.SIGKILL)
        self.process.wait(20)


def _started(profile: Path, flags: Sequence[str]) -> subprocess.Popen[bytes]:
    port_file = profile / "DevToolsActivePort"
    port_file.unlink(missing_ok=True)
    for lock in profile.glob("Singleton*"):
        # A killed browser leaves its lock behind.
        lock.unlink()
    return subprocess.Popen(
        [
            str(program()),
            *FLAGS,
            *flags,
            "--headless=new",
            "--remote-debugging-port=0",
            f"--user-data-dir={profile}",
            "about:blank",
        ],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )


def _port(profile: Path) -> str:
    port_file = profile / "DevToolsActivePort"
    return port_file.read_text().partition("\n")[0] if port_file.exists() else ""


@contextmanager
def started_phone(profile: Path, site: str, *, flags: Sequence[str] = ()) -> Iterator[OwnPhone]:
    """A phone with the profile, until the block ends or it is killed."""
    profile.mkdir(exist_ok=True)
    process = _started(profile, flags)
    try:
        port = wait_until(lambda: _port(profile), what="the browser's own port", seconds=60)
        with sync_playwright() as playwright:
            browser = playwright.chromium.connect_over_cdp(f"http://127.0.0.1:{port}")
            context = browser.contexts[0]
            page = context.pages[0]
            page.set_viewport_size(PHONE)  # type: ignore[arg-type]
            page.set_default_timeout(20_000)
            phone = OwnPhone(profile, site, playwright, process, context, page)
            page.on("pageerror", lambda error: phone.errors.append(str(error)))
            yield phone
            assert not phone.errors, f"A script of the page failed: {phone.errors}"
    finally:
        if process.poll() is None:
            process.send_signal(signal.SIGTERM)
            process.wait(20)
