"""The demo is left while it is served: one action, and an empty database of one's own."""

import re
from collections.abc import Callable
from http.cookiejar import CookieJar
from pathlib import Path
from urllib.error import HTTPError
from urllib.parse import urlencode
from urllib.request import HTTPCookieProcessor, build_opener

import pytest

from tests.services.processes import Installation
from tests.services.web_server import started_web_server

# A demo in small: its people, one depot, an upload.
BEGIN = """
from django.conf import settings
from fleetdoors.demo_people import let_demo_people_in
from fleetdoors.models import Depot
Depot.objects.create(code="INVENTED")
(settings.MEDIA_ROOT / "photos").mkdir(parents=True)
(settings.MEDIA_ROOT / "photos" / "one").write_text("invented")
print("PASSWORD", let_demo_people_in(settings.DATA_DIR)[0].password)
"""
LEFT = """
from fleetdoors.models import Depot, MaintenanceTask, User
print("LEFT", Depot.objects.count(), MaintenanceTask.objects.count() > 10,
      *User.objects.values_list("username", "role", "is_superuser"))
"""
Ask = Callable[..., tuple[int, str]]


@pytest.fixture
def demo(tmp_path: Path) -> Installation:
    """An install that serves a demo."""
    installation = Installation(tmp_path, {"DEMO": "true"})
    installation.do("migrate", "--verbosity", "0")
    return installation


def visitor(site: str) -> Ask:
    """Somebody with a browser's cookies: gets a page, or sends its form."""
    opener = build_opener(HTTPCookieProcessor(CookieJar()))

    def ask(path: str, **fields: str) -> tuple[int, str]:
        sent = None
        if fields:
            page = opener.open(site + path, timeout=60).read().decode()
            [token] = set(re.findall(r'name="csrfmiddlewaretoken" value="(\w+)"', page)[-1:])
            sent = urlencode(fields | {"csrfmiddlewaretoken": token}).encode()
        try:
            with opener.open(site + path, sent, timeout=300) as answer:
                return answer.status, answer.read().decode()
        except HTTPError as refused:
            return refused.code, refused.read().decode()

    return ask


def test_the_demo_is_left_in_one_action(demo: Installation) -> None:
    [password] = re.findall(r"PASSWORD (\S+)", demo.do("shell", "-v", "0", "-c", BEGIN))
    with started_web_server(demo) as site:
        ask = visitor(site)
        _, page = ask("/sign-in/", username="administrator", password=password)
        assert "Leave the demo and begin your own" in page
        status, page = ask(
            "/demo/end/",
            administrator="kit",
            password="tall-ladder-97",
            again="tall-ladder-97",
            is_meant="on",
        )
        assert (status, "Enter as one of these people" in page) == (200, False)

        anew = visitor(site)
        _, page = anew("/sign-in/", username="administrator", password=password)
        assert "That did not open" in page, "the demo's people are gone"
        _, page = anew("/sign-in/", username="kit", password="tall-ladder-97")
        assert "Put depots, trucks and doors on record" in page
        assert "This is a demo" not in page
        assert "There is no demo here" in anew("/demo/end/")[1]
    left = demo.do("shell", "-v", "0", "-c", LEFT)
    assert "LEFT 0 True ('kit', 'administrator', True)" in left
    assert not (demo.folder / "uploads").exists()

    again = demo.manage("demo", "--no-serve")
    assert again.returncode == 1
    assert "nothing was changed" in again.stderr
    refused = demo.manage("demo", "--remove")
    assert refused.returncode == 1
