"""Served over TLS by the web server itself, under a name that is not this machine's."""

from __future__ import annotations

import socket
import ssl
from collections.abc import Iterator
from http.client import HTTPConnection
from pathlib import Path
from urllib.parse import urlsplit

import pytest

from tests.services.processes import Installation
from tests.services.tls_front import NAME, made_certificate
from tests.services.waiting import SLOWER, wait_until
from tests.services.web_server import started_web_server


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, Path]]:
    """The address of a web server that speaks TLS itself, and its certificate."""
    folder = tmp_path_factory.mktemp("tls")
    certificate = made_certificate(folder)
    settings = {"PUBLIC_ADDRESS": f"https://{NAME}", "TLS_CERTIFICATE": str(certificate)}
    installation = Installation(folder, settings)
    installation.do("migrate", "--verbosity", "0")
    with started_web_server(installation) as address:
        yield address, certificate


class OverTls(HTTPConnection):
    """A client that trusts the one certificate, and asks this machine by the other name."""

    def __init__(self, address: str, certificate: Path) -> None:
        super().__init__(NAME, timeout=20 * SLOWER)
        self.port = int(urlsplit(address).port or 0)
        self.trusted = ssl.create_default_context(cafile=str(certificate))

    def connect(self) -> None:
        plain = socket.create_connection(("127.0.0.1", self.port), self.timeout)
        self.sock = self.trusted.wrap_socket(plain, server_hostname=NAME)


def test_pages_come_over_tls_under_the_public_name(served: tuple[str, Path]) -> None:
    caller = OverTls(*served)
    caller.request("GET", "/sign-in/")
    answer = caller.getresponse()
    assert answer.status == 200, "no proxy is there to say that it is https, and none is needed"
    assert "Secure" in str(answer.headers["Set-Cookie"])
    assert str(answer.headers["Strict-Transport-Security"]).startswith("max-age=31536000")
    caller.close()


def test_a_word_of_a_stranger_does_not_turn_https_off(served: tuple[str, Path]) -> None:
    caller = OverTls(*served)
    caller.request("GET", "/sign-in/", headers={"X-Forwarded-Proto": "http"})
    assert caller.getresponse().status == 200
    caller.close()


def test_another_certificate_is_not_trusted(served: tuple[str, Path], tmp_path: Path) -> None:
    caller = OverTls(served[0], made_certificate(tmp_path))
    with pytest.raises(ssl.SSLCertVerificationError):
        caller.request("GET", "/healthz")


def test_the_key_is_for_the_owner_only(tmp_path: Path) -> None:
    assert made_certificate(tmp_path).stat().st_mode & 0o077 == 0


def test_a_start_without_a_public_address_warns(
    served: tuple[str, Path], installation: Installation
) -> None:
    certificate = served[1]
    assert "public_address_missing" not in (certificate.parent / "web_server.log").read_text()
    log = installation.folder / "web_server.log"
    with started_web_server(installation):
        wait_until(
            lambda: "public_address_missing" in log.read_text(), what="the warning", seconds=60
        )
