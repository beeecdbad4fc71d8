"""A proxy that speaks TLS in front of a plain server, as one in a yard would."""

from __future__ import annotations

import base64
import hashlib
import ssl
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from http.client import HTTPConnection
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from threading import Thread
from urllib.parse import urlsplit

from tests.services.processes import ROOT

NAME = "doors.yard.test"
# Between two neighbours only, never passed on.
HOP_BY_HOP = {"connection", "keep-alive", "transfer-encoding", "content-length", "upgrade"}


def made_certificate(folder: Path) -> Path:
    """What `make certificate` makes for trials: one file with key and certificate."""
    path = folder / "tls.pem"
    subprocess.run(
        ["make", "--silent", "certificate", f"NAME={NAME}", f"CERTIFICATE={path}"],
        cwd=ROOT,
        check=True,
        capture_output=True,
    )
    return path


def fingerprint(certificate: Path) -> str:
    """What a browser is told to trust: the digest of the certificate's public key."""
    command = ["openssl", "x509", "-in", str(certificate), "-pubkey", "-noout"]
    text = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    key = base64.b64decode("".join(text.splitlines()[1:-1]))
    return base64.b64encode(hashlib.sha256(key).digest()).decode()


@contextmanager
def tls_in_front_of(site: str, certificate: Path) -> Iterator[str]:
    """Serve the site over TLS under the name of the certificate, and give its address."""

    class Passing(BaseHTTPRequestHandler):
        protocol_version = "HTTP/1.1"

        def pass_on(self) -> None:
            length = int(self.headers.get("Content-Length") or 0)
            body = self.rfile.read(length) if length else None
            headers = {name: value for name, value in self.headers.items()
                       if name.lower() not in HOP_BY_HOP}  # fmt: skip
            caller = HTTPConnection(str(urlsplit(site).netloc), timeout=30)
            caller.request(self.command, self.path, body, {**headers, "X-Forwarded-Proto": "https"})
            answer = caller.getresponse()
            content = answer.read()
            self.send_response(answer.status)
            for name, value in answer.getheaders():
                if name.lower() not in HOP_BY_HOP | {"date", "server"}:
                    self.send_header(name, value)
            self.send_header("Content-Length", str(len(content)))
            self.end_headers()
            self.wfile.write(content)
            caller.close()

        do_GET = do_POST = do_HEAD = pass_on  # noqa: N815

        def log_message(self, *_words: object) -> None:
            """Say nothing."""

    server = ThreadingHTTPServer(("127.0.0.1", 0), Passing)
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(certificate)
    server.socket = context.wrap_socket(server.socket, server_side=True)
    serving = Thread(target=server.serve_forever, daemon=True)
    serving.start()
    try:
        yield f"https://{NAME}:{server.server_port}"
    finally:
        server.shutdown()
        server.server_close()
        serving.join()
