"""A served install answers over a real web server."""

import gzip
import http.client
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit

import pytest

from tests.services.processes import Installation
from tests.services.web_server import started_web_server


@dataclass(frozen=True)
class Answer:
    """What came back."""

    status: int
    headers: http.client.HTTPMessage
    body: bytes


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The address of an install with its static files collected."""
    folder: Path = tmp_path_factory.mktemp("served")
    installation = Installation(folder, {})
    installation.do("migrate", "--verbosity", "0")
    installation.do("collectstatic", "--no-input", "--verbosity", "0")
    with started_web_server(installation) as address:
        yield address


def get(site: str, path: str, **headers: str) -> Answer:
    """Ask for one address, without following where it leads."""
    connection = http.client.HTTPConnection(str(urlsplit(site).netloc), timeout=20)
    connection.request("GET", path, headers=headers)
    response = connection.getresponse()
    answer = Answer(response.status, response.headers, response.read())
    connection.close()
    return answer


def test_it_says_that_it_is_well_without_sign_in(site: str) -> None:
    answer = get(site, "/healthz")
    assert (answer.status, answer.body) == (200, b'{"status": "ok"}')


def test_the_content_policy_allows_no_inline_script_or_style(site: str) -> None:
    policy = get(site, "/sign-in/").headers["Content-Security-Policy"]
    assert "default-src 'self'" in policy
    assert "unsafe" not in policy
    assert "script-src" not in policy
    assert "style-src" not in policy


def test_plotly_comes_from_its_package_and_compressed(site: str) -> None:
    answer = get(site, "/static/vendor/plotly.min.js", **{"Accept-Encoding": "gzip"})
    assert answer.status == 200
    assert answer.headers["Content-Encoding"] == "gzip"
    assert b"plotly" in gzip.decompress(answer.body)[:300].lower()


def test_another_name_than_its_own_is_refused(site: str) -> None:
    assert get(site, "/healthz", Host="elsewhere.example").status == 400


def test_a_page_cannot_be_framed_or_taken_for_another_type(site: str) -> None:
    headers = get(site, "/sign-in/").headers
    assert headers["X-Frame-Options"] == "DENY"
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["Referrer-Policy"] == "same-origin"


def test_over_https_plain_requests_are_sent_there(tmp_path: Path) -> None:
    secured = Installation(tmp_path, {"HTTPS": "true"})
    secured.do("migrate", "--verbosity", "0")
    with started_web_server(secured) as site:
        plain = get(site, "/sign-in/")
        behind_proxy = get(site, "/sign-in/", **{"X-Forwarded-Proto": "https"})
    assert plain.status == 301
    assert plain.headers["Location"].startswith("https://")
    assert behind_proxy.status == 200
    assert "Secure" in behind_proxy.headers["Set-Cookie"]
    assert behind_proxy.headers["Strict-Transport-Security"].startswith("max-age=31536000")
