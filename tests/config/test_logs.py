"""Every line of the log is one JSON object, whoever wrote it."""

import json
import subprocess
import sys

from tests.services.processes import ROOT, Installation

WRITE = """
from fleetdoors.config.start import load_settings
load_settings()
import django; django.setup()
import logging, structlog
structlog.get_logger("inspections.services").info("import done", doors=240, depot="Nordhafen")
structlog.get_logger("analytics").debug("too much")
logging.getLogger("django.request").warning("Not found: %s", "/nowhere")
try:
    1 / 0
except ZeroDivisionError:
    structlog.get_logger("fleetdoors").exception("cannot divide")
"""


def written(installation: Installation) -> list[dict[str, object]]:
    """The lines that four writers left on standard error."""
    done = subprocess.run(
        [sys.executable, "-c", WRITE],
        cwd=ROOT,
        env=installation.environment,
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )
    assert done.stdout == ""
    return [json.loads(line) for line in done.stderr.splitlines()]


def test_each_line_is_json_with_its_fields(installation: Installation) -> None:
    ours, djangos, failure = written(installation)
    assert ours["event"] == "import done"
    assert (ours["doors"], ours["depot"], ours["level"]) == (240, "Nordhafen", "info")
    assert str(ours["timestamp"]).endswith("Z")
    assert (djangos["event"], djangos["logger"]) == ("Not found: /nowhere", "django.request")
    assert "ZeroDivisionError" in json.dumps(failure["exception"])
