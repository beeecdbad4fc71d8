"""Load on made fleets of two sizes: `make load DOORS=100000 ENGINE=postgresql` prints the figures.

Everything is measured in one run on one machine: a full recompute against the raw driver's fetch
and write of the same rows, its peak memory, one worker against two, the pages at 20 requests a
second while a recompute runs, how the cost grows from a tenth of the fleet to the whole, and an
import against the raw driver's insert. By the clock, and by the work of the processes: the server
of PostgreSQL works beside them and is in the clock alone.
"""

from __future__ import annotations

import argparse
import math
import os
import statistics
import subprocess
import sys
import tempfile
from collections import defaultdict
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from http.client import HTTPConnection
from pathlib import Path
from time import monotonic, perf_counter, sleep

from tests.bench.process_work import work_seconds
from tests.services.postgresql import Cluster, started_cluster
from tests.services.processes import ROOT, Installation, free_port
from tests.services.redis_server import redis_at, worker_process
from tests.services.waiting import wait_until
from tests.services.web_server import web_server_process

PER_SECOND = 20
AT_ONCE = 16
PAGES = ("/due/", "/doors/S000007/", "/parts/")
PATIENCE = 3_600.0

MAKE = """
import django; django.setup()
from tests.bench.made_fleet import make_fleet
make_fleet({doors}, {readings})
"""
RECOMPUTE = """
import django; django.setup()
from pathlib import Path
from time import perf_counter, process_time
from django.core.management import call_command
clock, work = perf_counter(), process_time()
call_command("recompute")
print("TOOK", perf_counter() - clock, process_time() - work)
[line] = [line for line in Path("/proc/self/status").read_text().splitlines() if "VmHWM" in line]
print("PEAK", line.split()[1])
"""
FLOOR = """
import django; django.setup()
from tests.bench.raw_floor import raw_fetch, raw_write
fetch, write = raw_fetch(), raw_write()
print("FLOOR", fetch.clock, fetch.work, write.clock, write.work)
"""
IMPORT = """
import django; django.setup()
from pathlib import Path
from django.conf import settings
settings.RECOMPUTE_DOORS = "tests.recompute_requests.keep"
from inspections.services.fleet_folder.importing import import_fleet
from tests.bench.raw_floor import raw_readings, taken
from tests.bench.test_import_bench import write_fleet
from tests.inspections.fleet_folders import NOW
folder = write_fleet(Path({folder!r}), {doors}, {readings})
ours = taken(lambda: import_fleet(folder, now=NOW))
[line] = [line for line in Path("/proc/self/status").read_text().splitlines() if "VmHWM" in line]
raw = raw_readings()
print("IMPORT", ours.clock, ours.work, raw.clock, raw.work)
print("PEAK", line.split()[1])
"""
COOKIE = """
from django.test import Client
from fleetdoors.models import User
client = Client()
client.force_login(User.objects.get_or_create(username="load", role="planner")[0])
print("COOKIE", client.cookies["sessionid"].value)
"""
SHOWN = """
import django; django.setup()
from analytics.models import Computation
print("SHOWN", Computation.objects.current().get().pk)
"""


@dataclass(frozen=True)
class Recomputed:
    """A full recompute in one process, and the raw driver's work on the same rows."""

    doors: int
    seconds: float
    work_seconds: float
    floor_work_seconds: float


def say(words: str) -> None:
    """Print at once: a large run takes its time."""
    sys.stdout.write(f"{words}\n")
    sys.stdout.flush()


def run_python(installation: Installation, code: str) -> list[str]:
    """Run code in a process of the installation; the lines that it printed."""
    environment = {
        **installation.environment,
        "DJANGO_SETTINGS_MODULE": "fleetdoors.config.settings",
        "PYTHONPATH": str(ROOT),
    }
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, env=environment, capture_output=True, text=True,
        check=False,
    )  # fmt: skip
    if done.returncode:
        raise RuntimeError(f"{code}\n{done.stdout}\n{done.stderr[-4_000:]}")
    return done.stdout.splitlines()


def told(lines: list[str], word: str) -> list[str]:
    """What stands behind a word."""
    [line] = [line for line in lines if line.startswith(f"{word} ")]
    return line.split()[1:]


def made_fleet(installation: Installation, doors: int, readings: int) -> None:
    installation.do("migrate", "--verbosity", "0")
    clock = perf_counter()
    run_python(installation, MAKE.format(doors=doors, readings=readings))
    say(f"made: {doors:,} doors, {doors * readings:,} readings in {perf_counter() - clock:.0f} s")


def recompute(installation: Installation, doors: int) -> Recomputed:
    """Compute twice, the second time measured: the first one fills the tables' files.

    By the clock and by this process's own work: what else the machine does bends only the clock.
    """
    run_python(installation, RECOMPUTE)
    lines = run_python(installation, RECOMPUTE)
    seconds, work = map(float, told(lines, "TOOK"))
    numbers = map(float, told(run_python(installation, FLOOR), "FLOOR"))
    fetch, fetch_work, write, write_work = numbers
    floor, floor_work = fetch + write, fetch_work + write_work
    megabytes = int(told(lines, "PEAK")[0]) / 1024
    say(
        f"recompute of {doors:,} doors: {seconds:.1f} s by the clock, {work:.1f} s of this "
        f"process's work, peak {megabytes:,.0f} MB; raw driver {fetch:.1f} s to fetch and "
        f"{write:.1f} s to write, of work {fetch_work:.1f} s and {write_work:.1f} s; ratio to "
        f"both {seconds / floor:.2f} by the clock, {work / floor_work:.2f} by work; to the fetch "
        f"alone {seconds / fetch:.2f} and {work / fetch_work:.2f}"
    )
    return Recomputed(doors, seconds, work, floor_work)


def import_readings(installation: Installation, doors: int, readings: int) -> None:
    """Import a folder of readings, and put the very same rows in by the raw driver."""
    installation.do("migrate", "--verbosity", "0")
    folder = str(installation.folder / "fleet")
    code = IMPORT.format(folder=folder, doors=doors, readings=readings)
    lines = run_python(installation, code)
    clock, work, raw_clock, raw_work = map(float, told(lines, "IMPORT"))
    megabytes = int(told(lines, "PEAK")[0]) / 1024
    say(
        f"import of {doors * readings:,} readings: {clock:.1f} s by the clock, {work:.1f} s of "
        f"work, peak {megabytes:,.0f} MB; raw driver {raw_clock:.1f} s, {raw_work:.1f} s of work; "
        f"ratio {clock / raw_clock:.2f} by the clock, {work / raw_work:.2f} by work"
    )


@dataclass(frozen=True)
class ByWorkers:
    """From the request to the figures being shown: by the clock, and each worker's work."""

    seconds: float
    work: tuple[float, ...]

    def __str__(self) -> str:
        work = " and ".join(f"{each:.1f}" for each in self.work)
        return f"{self.seconds:.1f} s by the clock, {work} s of work"


def with_workers(installation: Installation, folder: Path, count: int) -> ByWorkers:
    """A full run by so many workers."""
    port = free_port()
    url = f"redis://127.0.0.1:{port}/0"
    scaled = Installation(installation.folder, {**installation.settings, "REDIS_URL": url})
    folder.mkdir()
    before = told(run_python(installation, SHOWN), "SHOWN")
    with redis_at(port, folder), ExitStack() as stack:
        started = [
            stack.enter_context(worker_process(scaled, f"{count}-{number}"))
            for number in range(count)
        ]
        processes = [process.pid for _caller, process in started]
        begun, clock = [work_seconds(each) for each in processes], perf_counter()
        started[0][0].send_task("analytics.recompute_fleet")
        wait_until(
            lambda: told(run_python(installation, SHOWN), "SHOWN") != before,
            what="the figures to be shown",
            seconds=PATIENCE,
            every=0.5,
        )
        seconds = perf_counter() - clock
        work = [work_seconds(each) - b for each, b in zip(processes, begun, strict=True)]
    return ByWorkers(seconds, tuple(work))


def tell_workers(installation: Installation, folder: Path) -> None:
    """One worker against two; by work, the one that works longest says when two are done."""
    one, two = (with_workers(installation, folder / f"redis{n}", n) for n in (1, 2))
    say(
        f"workers: one {one}; two {two}; {one.seconds / two.seconds:.2f} times as fast by the "
        f"clock on {os.cpu_count()} cores, {sum(one.work) / max(two.work):.2f} times by work"
    )


@dataclass(frozen=True)
class Answered:
    """One request: its page, status and milliseconds from when it was due."""

    page: str
    status: int
    milliseconds: float


def asked(site: str, cookie: str, page: str, due: float) -> Answered:
    caller = HTTPConnection("127.0.0.1", int(site.rpartition(":")[2]), timeout=60)
    caller.request("GET", page, headers={"Cookie": f"sessionid={cookie}"})
    answer = caller.getresponse()
    answer.read()
    caller.close()
    return Answered(page, answer.status, (monotonic() - due) * 1_000)


def pages_under_load(installation: Installation, seconds: float) -> list[Answered]:
    """Ask 20 times a second, whether or not the last answers have come; a recompute runs."""
    [cookie] = told(installation.do("shell", "--no-imports", "-c", COOKIE).splitlines(), "COOKIE")
    with web_server_process(installation) as (site, server), ThreadPoolExecutor(AT_ONCE) as pool:
        for page in PAGES:
            asked(site, cookie, page, monotonic())
        with recomputing(installation):
            begun, work = monotonic(), work_seconds(server.pid)
            waiting = []
            for number in range(int(seconds * PER_SECOND)):
                due = begun + number / PER_SECOND
                sleep(max(0.0, due - monotonic()))
                waiting.append(pool.submit(asked, site, cookie, PAGES[number % 3], due))
            answers = [each.result() for each in waiting]
            each_ms = (work_seconds(server.pid) - work) * 1_000 / len(answers)
            say(f"pages: {each_ms:.0f} ms of the web server's work for each of {len(answers):,}")
            return answers


@contextmanager
def recomputing(installation: Installation) -> Iterator[None]:
    """Recompute again and again until the block ends."""
    command = f"while :; do {sys.executable} manage.py recompute >/dev/null; done"
    process = subprocess.Popen(
        ["sh", "-c", f"trap 'kill 0' TERM; {command}"],
        cwd=ROOT,
        env=installation.environment,
        start_new_session=True,
    )
    try:
        yield
    finally:
        os.killpg(process.pid, 15)
        process.wait(20)


def tell_pages(answers: list[Answered]) -> None:
    by_page: dict[str, list[float]] = defaultdict(list)
    for each in answers:
        by_page[each.page].append(each.milliseconds)
    for page, taken in by_page.items():
        p95 = statistics.quantiles(taken, n=20)[-1]
        say(
            f"{page} at {PER_SECOND} requests a second in all, a recompute running: median "
            f"{statistics.median(taken):.0f} ms, 95th percentile {p95:.0f} ms of {len(taken)}"
        )


def installed(folder: Path, cluster: Cluster | None, name: str) -> Installation:
    """The program with an empty database of its own."""
    folder.mkdir()
    return Installation(folder, {"DATABASE_URL": cluster.new_database(name)} if cluster else {})


def measure(
    folder: Path, cluster: Cluster | None, doors: int, readings: int
) -> tuple[Installation, Recomputed]:
    """A fleet of a size in a database of its own, and what its recompute costs."""
    installation = installed(folder, cluster, f"load_{doors}")
    made_fleet(installation, doors, readings)
    return installation, recompute(installation, doors)


def run(folder: Path, cluster: Cluster | None, options: argparse.Namespace) -> list[Answered]:
    """Measure a tenth of the fleet and the whole of it."""
    _small, tenth = measure(folder / "tenth", cluster, options.doors // 10, options.readings)
    installation, whole = measure(folder / "whole", cluster, options.doors, options.readings)
    clock = math.log10(whole.seconds / tenth.seconds)
    work = math.log10(whole.work_seconds / tenth.work_seconds)
    floor = math.log10(whole.floor_work_seconds / tenth.floor_work_seconds)
    say(
        f"cost grows with the doors to the power {clock:.2f} by the clock, {work:.2f} by work; "
        f"the raw driver's work {floor:.2f}"
    )
    answers = pages_under_load(installation, options.seconds)
    tell_pages(answers)
    if options.workers:
        tell_workers(installation, folder)
    import_readings(
        installed(folder / "import", cluster, "load_import"), options.doors, options.readings
    )
    return answers


def parsed(arguments: list[str]) -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--doors", type=int, default=100_000)
    parser.add_argument("--readings", type=int, default=50, help="of each door")
    parser.add_argument("--engine", choices=("sqlite", "postgresql"), default="sqlite")
    parser.add_argument("--seconds", type=float, default=60.0, help="of requests for pages")
    parser.add_argument("--workers", action="store_true", help="measure one worker against two")
    return parser.parse_args(arguments)


def main(arguments: list[str]) -> list[Answered]:
    options = parsed(arguments)
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="fleetdoors-load-")))
        is_postgresql = options.engine == "postgresql"
        cluster = stack.enter_context(started_cluster()) if is_postgresql else None
        return run(folder, cluster, options)


if __name__ == "__main__":
    main(sys.argv[1:])
