"""What processes have worked, as the kernel counts it: other work bends only clocks."""

from __future__ import annotations

import os
from pathlib import Path

_TICKS = os.sysconf("SC_CLK_TCK")


def work_seconds(process_id: int) -> float:
    """Seconds of work of a process, of those it started, and of those that ended before."""
    try:
        stat = Path(f"/proc/{process_id}/stat").read_text()
        listed = Path(f"/proc/{process_id}/task/{process_id}/children").read_text()
    except FileNotFoundError:
        return 0.0
    # Behind the name, which may hold spaces: its state is field 3, the four times are 14 to 17.
    fields = stat.rpartition(")")[2].split()
    own = sum(map(int, fields[11:15])) / _TICKS
    return own + sum(work_seconds(int(child)) for child in listed.split())
