"""How slow this machine is at this moment: what turns a limit in milliseconds into a ratio.

A limit that is given in milliseconds was measured on a quiet machine of two cores. The same fixed
piece of work (rows from SQLite, a template of Django's, a sort of numpy's; nothing of ours) is
done again beside each measurement, and the limit stretches by as much as that takes longer.
"""

from __future__ import annotations

import sqlite3
from time import process_time

import numpy as np
from django.template import Context, Engine

ROWS, PAGE = 20_000, 400
QUIET_MS = 90.0

_TABLE = Engine().from_string(
    "{% for row in rows %}<tr class='{% cycle 'odd' 'even' %}'>{% for cell in row %}"
    "<td>{{ cell|default:'-' }}</td>{% endfor %}</tr>{% endfor %}"
)


def slowness(*, times: int = 5) -> float:
    """This machine's time for the fixed work over the quiet machine's, at least 1."""
    return max(min(_work_ms() for _time in range(times)) / QUIET_MS, 1.0)


def _work_ms() -> float:
    started = process_time()
    driver = sqlite3.connect(":memory:")
    driver.execute("CREATE TABLE work (id INTEGER PRIMARY KEY, name TEXT, day INTEGER, part REAL)")
    driver.executemany(
        "INSERT INTO work VALUES (?, ?, ?, ?)",
        ((at, f"row {at}", at * 7919 % 1009, at / 7) for at in range(ROWS)),
    )
    rows = driver.execute("SELECT * FROM work ORDER BY day, name").fetchall()
    driver.close()
    _TABLE.render(Context({"rows": rows[:PAGE]}))
    np.sort(np.sin(np.arange(ROWS * 10.0)))
    return 1000 * (process_time() - started)
