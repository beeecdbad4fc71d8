"""The demo fleet that ships with the program: an invented company, made from a fixed plan.

`python -m analytics.synthetic.demo fixtures` writes its two archives anew.
"""

import sys
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

from analytics.synthetic.archive import zip_folder
from analytics.synthetic.fleet import FleetPlan
from analytics.synthetic.folder import TRUTH, write_fleet

DEMO_PLAN: Final = FleetPlan(
    doors=240,
    days=730,
    seed=20,
    scenario="demo",
    until=date(2026, 6, 26),
    readings_per_door=36,
)
DEMO_ZIP, DEMO_TRUTH_ZIP = "demo.zip", "demo_truth.zip"


def write_demo(fixtures: Path) -> None:
    """Make the demo fleet and put its record and its truth into one archive each."""
    with TemporaryDirectory() as place:
        folder = Path(place) / "demo"
        write_fleet(folder, DEMO_PLAN)
        zip_folder(folder, fixtures / DEMO_ZIP)
        zip_folder(folder / TRUTH, fixtures / DEMO_TRUTH_ZIP)


if __name__ == "__main__":
    write_demo(Path(sys.argv[1]))
