"""Every line of the log is one JSON object, whoever wrote it."""

import json
import logging
import subprocess
import sys

from fleetdoors.config.logs import as_json
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


def fail_with_a_secret() -> None:
    secret = "open-sesame-4711"
    raise LookupError(f"no door for {len(secret)} letters")


def test_trace_names_the_place_without_local_values() -> None:
    record = logging.LogRecord("fleetdoors", logging.ERROR, __file__, 1, "failed", (), None)
    try:
        fail_with_a_secret()
    except LookupError as error:
        record.exc_info = (type(error), error, error.__traceback__)

    line = as_json().format(record)

    trace = json.loads(line)["exception"][0]
    assert trace["exc_type"] == "LookupError"
    assert trace["frames"][-1]["name"] == "fail_with_a_secret"
    assert "open-sesame" not in line
