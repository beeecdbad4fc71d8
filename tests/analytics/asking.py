"""Asking the figures command, as a script does."""

from __future__ import annotations

import json
from io import StringIO
from typing import Any

from django.core.management import call_command


def ask(name: str, *options: str) -> list[dict[str, Any]]:
    """What `figures NAME options --format json` prints."""
    return json.loads(ask_text(name, *options, "--format=json"))


def ask_text(name: str, *options: str) -> str:
    """What `figures NAME options` prints."""
    out = StringIO()
    call_command("figures", name, *options, stdout=out)
    return out.getvalue()
