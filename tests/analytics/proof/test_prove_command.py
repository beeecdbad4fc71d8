"""`prove`: the table, and an exit code that a script can trust."""

from __future__ import annotations

from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from analytics.management.commands import prove
from analytics.proof.claim import Claim


def test_one_group_is_printed_with_its_count() -> None:
    out = StringIO()
    call_command("prove", "--only", "mcbf_bounds", "--quick", stdout=out)
    lines = out.getvalue().splitlines()
    assert lines[0].split() == ["claim", "target", "measured", "holds"]
    assert "MCBF bounds: 90 % bounds hold the truth at 8 expected failures" in lines[3]
    assert lines[-1] == "4 of 4 claims hold."


def test_a_claim_that_does_not_hold_ends_in_1(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(prove.GROUPS, "lives", lambda effort: [Claim("lives", "covers", 0.5, 0.83)])
    out = StringIO()
    with pytest.raises(SystemExit) as ended:
        call_command("prove", "--only", "lives", stdout=out)
    assert ended.value.code == 1
    assert "0 of 1 claims hold." in out.getvalue()


def test_a_missing_library_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(prove.libraries, "NEEDED", ("no_such_library",))
    out = StringIO()
    call_command("prove", "--only", "libraries", stdout=out)
    assert "Not compared with other libraries: no_such_library not installed." in out.getvalue()


def test_an_unknown_group_is_wrong_usage() -> None:
    with pytest.raises(CommandError, match="invalid choice"):
        call_command("prove", "--only", "nothing")
