"""A person who fills in a form, without a browser."""

from __future__ import annotations

import re
from http.client import HTTPConnection
from urllib.parse import urlencode

from tests.services.processes import Installation
from tests.services.waiting import SLOWER

PATIENCE = 180
COOKIE = """
from django.test import Client
from fleetdoors.models import User
client = Client()
client.force_login(User.objects.create_user("pat", role="planner"))
print("COOKIE", client.cookies["sessionid"].value)
"""


def session_of_a_planner(installation: Installation) -> str:
    """Sign a new planner in, without a page."""
    said = installation.do("shell", "--no-imports", "-c", COOKIE)
    [line] = [line for line in said.splitlines() if line.startswith("COOKIE")]
    return line.split()[1]


class Clerk:
    """A planner's browser without a window: one session, one form."""

    form = "/doors/D00/reading/"

    def __init__(self, site: str, session: str) -> None:
        self.port = int(site.rpartition(":")[2])
        self.cookie = f"sessionid={session}"

    def ask(self, method: str, path: str, body: str | None = None) -> tuple[int, str]:
        caller = HTTPConnection("127.0.0.1", self.port, timeout=PATIENCE * SLOWER)
        headers = {"Cookie": self.cookie}
        if body is not None:
            headers["Content-Type"] = "application/x-www-form-urlencoded"
        try:
            caller.request(method, path, body, headers)
            answer = caller.getresponse()
            return answer.status, answer.read().decode()
        finally:
            caller.close()

    def post_reading(self, value: int) -> int:
        """Fill in and send the form as the page would; the status of the answer."""
        _status, page = self.ask("GET", self.form)
        [token] = set(re.findall(r'name="csrfmiddlewaretoken" value="(\w+)"', page))
        form = {"csrfmiddlewaretoken": token, "counter_value": value, "read_at": "2026-06-29T08:00"}
        return self.ask("POST", self.form, urlencode(form))[0]

    def remember_token(self) -> bool:
        """Keep the cookie that goes with the form's token."""
        caller = HTTPConnection("127.0.0.1", self.port, timeout=PATIENCE * SLOWER)
        caller.request("GET", self.form, headers={"Cookie": self.cookie})
        cookies = str(caller.getresponse().headers.get_all("Set-Cookie"))
        found = re.search(r"csrftoken=(\w+)", cookies)
        self.cookie += f"; csrftoken={found[1]}" if found else ""
        caller.close()
        return found is not None
