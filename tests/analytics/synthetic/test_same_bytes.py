"""The same plan gives the same bytes, whatever else was made before."""

from hashlib import sha256
from pathlib import Path
from zipfile import ZipFile

import numpy as np

from analytics.synthetic.archive import zip_folder
from analytics.synthetic.demo import DEMO_PLAN, DEMO_TRUTH_ZIP, DEMO_ZIP
from analytics.synthetic.fleet import BLOCK_DOORS, FleetPlan, make_block, make_frame
from analytics.synthetic.folder import write_fleet

FIXTURES = Path(__file__).parents[3] / "fixtures"
PLAN = FleetPlan(60, 120, 9, "demo", readings_per_door=8)


def digests(folder: Path) -> dict[str, str]:
    return {
        str(path.relative_to(folder)): sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def test_same_seed_gives_the_same_bytes(tmp_path: Path) -> None:
    for name in ("one", "two"):
        write_fleet(tmp_path / name, PLAN)
        zip_folder(tmp_path / name, tmp_path / f"{name}.zip")
    assert digests(tmp_path / "one") == digests(tmp_path / "two")
    assert len(digests(tmp_path / "one")) > 20
    assert (tmp_path / "one.zip").read_bytes() == (tmp_path / "two.zip").read_bytes()


def test_another_seed_gives_another_fleet(tmp_path: Path) -> None:
    write_fleet(tmp_path / "one", PLAN)
    write_fleet(tmp_path / "two", FleetPlan(60, 120, 10, "demo", readings_per_door=8))
    one, two = digests(tmp_path / "one"), digests(tmp_path / "two")
    same = {name for name in one if one[name] == two.get(name)}
    fixed = {"depots.csv", "door_models.csv", "parts.csv", "truth/README.txt"}
    assert same == fixed | {"truth/components.csv"}


def test_a_block_does_not_depend_on_the_blocks_before_it() -> None:
    plan = FleetPlan(BLOCK_DOORS + 50, 60, 4, readings_per_door=3)
    frame = make_frame(plan)
    alone = make_block(plan, frame, 1)
    make_block(plan, frame, 0)
    again = make_block(plan, frame, 1)
    assert len(alone.doors) == 50
    assert np.array_equal(alone.usage.cycles, again.usage.cycles)
    assert np.array_equal(alone.readings.shown, again.readings.shown)


def test_shipped_demo_is_what_its_plan_makes(tmp_path: Path) -> None:
    """The fixture's contents, not its compression, which may differ between zlib builds."""
    write_fleet(tmp_path / "demo", DEMO_PLAN)
    for archive, folder in ((DEMO_ZIP, "demo"), (DEMO_TRUTH_ZIP, "demo/truth")):
        with ZipFile(FIXTURES / archive) as shipped:
            made = {p.name: p.read_bytes() for p in (tmp_path / folder).iterdir() if p.is_file()}
            assert {name: shipped.read(name) for name in shipped.namelist()} == made
        assert (FIXTURES / archive).stat().st_size < 1_500_000
