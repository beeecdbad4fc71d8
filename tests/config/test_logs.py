"""Logs are JSON lines, and never carry the values of local names."""

import json
import logging

from fleetdoors.config.logs import as_json


def fail_with_a_secret() -> None:
    secret = "open-sesame-4711"
    raise LookupError(f"no door for {len(secret)} letters")


def test_trace_names_the_place_without_local_values() -> None:
    try:
        fail_with_a_secret()
    except LookupError as error:
        record = logging.LogRecord("fleetdoors", logging.ERROR, __file__, 1, "failed", (), None)
        record.exc_info = (type(error), error, error.__traceback__)

    line = as_json().format(record)

    trace = json.loads(line)["exception"][0]
    assert trace["exc_type"] == "LookupError"
    assert trace["frames"][-1]["name"] == "fail_with_a_secret"
    assert "open-sesame" not in line
