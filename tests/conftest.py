"""What every test shares: the services it may ask for, and the groups that must not be left out."""

import os
from collections import Counter
from collections.abc import Iterator
from itertools import chain
from pathlib import Path

import pytest
from django.apps import apps
from django.core import serializers
from django.db import transaction
from playwright.sync_api import Browser, Page
from pytest_django import DjangoDbBlocker
from pytest_django.fixtures import Settings

from tests import recompute_requests as kept_requests
from tests.services import chromium, network, postgresql, redis_server
from tests.services.processes import Installation

OUR_APPS = ("fleetdoors", "inspections", "analytics")
HERE = Path(__file__).parent
WHY_NOT = {
    "browser": chromium.missing,
    "postgres": postgresql.missing,
    "redis": redis_server.missing,
}
# Begun last, it would leave one of two processes idle for minutes.
LONGEST = "test_same_on_postgresql.py"
# What a machine may lack in CI too, as many containers forbid it; it is told all the same.
MAY_MISS = {"namespaces": network.missing}
# A folder is a group: nobody needs to remember the mark.
FOLDERS = {"browser": HERE / "browser", "bench": HERE / "bench"}
GROUPS = (*WHY_NOT, "bench")
YES = ("1", "true", "yes")
PHONE = {"width": 390, "height": 844}
DESK = {"width": 1280, "height": 900}


def no_group_may_miss() -> bool:
    """Whether a group that cannot run is a failure: in CI, and where a person asks for it."""
    return any(os.environ.get(name, "").lower() in YES for name in ("CI", "FLEETDOORS_ALL_GROUPS"))


def pytest_addoption(parser: pytest.Parser) -> None:
    """Let the caller name the groups that belong to this run."""
    parser.addoption(
        "--groups",
        default="",
        help=f"Groups that belong to this run, of {', '.join(GROUPS)}: counted at the end, and "
        "with CI=true or FLEETDOORS_ALL_GROUPS=1 none of them may be left out.",
    )


def groups_of(config: pytest.Config) -> list[str]:
    """The groups that belong to this run."""
    named: list[str] = [group for group in config.getoption("--groups").split(",") if group]
    unknown = sorted(set(named) - set(GROUPS))
    if unknown:
        raise pytest.UsageError(f"--groups knows {', '.join(GROUPS)}, not {', '.join(unknown)}.")
    return named


def pytest_configure(config: pytest.Config) -> None:
    """Refuse a group that nobody knows before anything runs."""
    groups_of(config)


@pytest.hookimpl(wrapper=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> Iterator[None]:
    """Mark groups by folder; what takes as long as many others together begins first."""
    for item in items:
        for group, folder in FOLDERS.items():
            if folder in item.path.parents:
                item.add_marker(group)
    yield
    items.sort(key=lambda item: item.path.name != LONGEST)


def pytest_runtest_setup(item: pytest.Item) -> None:
    """Fail or skip a test whose service is not on this machine."""
    for group, why_not in WHY_NOT.items():
        reason = why_not() if item.get_closest_marker(group) else None
        if reason and no_group_may_miss():
            pytest.fail(f"The group {group} must not be left out, and {reason}.", pytrace=False)
        if reason:
            pytest.skip(f"{group}: {reason}")
    for mark, why_not in MAY_MISS.items():
        reason = why_not() if item.get_closest_marker(mark) else None
        if reason:
            pytest.skip(f"{mark}: {reason}")


def ran_by_group(config: pytest.Config) -> Counter[str]:
    """How many tests of each group passed in this run."""
    reporter = config.pluginmanager.getplugin("terminalreporter")
    passed = reporter.stats.get("passed", [])
    return Counter(group for report in passed for group in GROUPS if group in report.keywords)


def left_out(config: pytest.Config) -> list[str]:
    """What this run was to contain and did not."""
    reporter = config.pluginmanager.getplugin("terminalreporter")
    counted = ran_by_group(config)
    absent = [group for group in groups_of(config) if not counted[group]]
    skipped = reporter.stats.get("skipped", [])
    return absent + [each.nodeid for each in skipped if not set(MAY_MISS) & set(each.keywords)]


@pytest.hookimpl(trylast=True)
def pytest_sessionfinish(session: pytest.Session) -> None:
    """Fail a run from which something was left out, where nothing may be."""
    if hasattr(session.config, "workerinput") or not groups_of(session.config):
        return
    if no_group_may_miss() and session.exitstatus == 0 and left_out(session.config):
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


def pytest_terminal_summary(
    terminalreporter: pytest.TerminalReporter, config: pytest.Config
) -> None:
    """Say how many tests of each group passed, and what was left out."""
    if not groups_of(config):
        return
    counted = ran_by_group(config)
    terminalreporter.write_line(
        "Groups: " + ", ".join(f"{group} {counted[group]}" for group in groups_of(config))
    )
    for name in left_out(config):
        terminalreporter.write_line(f"Left out: {name}", red=no_group_may_miss())


@pytest.fixture(scope="session")
def reference_rows(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> str:
    """What the migrations wrote into the tables of our apps."""
    with django_db_blocker.unblock():
        models = [model for label in OUR_APPS for model in apps.get_app_config(label).get_models()]
        return serializers.serialize("json", chain(*(model.objects.all() for model in models)))


@pytest.fixture(autouse=True)
def _reference_data(request: pytest.FixtureRequest) -> None:
    """Put the migrations' rows back before each test that ends by emptying every table.

    Django's own way keeps the rows on the connection, and Playwright's loop gets another one.
    """
    marker = request.node.get_closest_marker("django_db")
    by_mark = marker is not None and bool(marker.kwargs.get("transaction"))
    if not by_mark and not {"transactional_db", "live_server"} & set(request.fixturenames):
        return
    request.getfixturevalue("transactional_db")
    with transaction.atomic():
        for row in serializers.deserialize("json", request.getfixturevalue("reference_rows")):
            row.save()


@pytest.fixture
def recompute_requests(settings: Settings) -> list[tuple[int, ...]]:
    """The doors whose new figures were asked for; nobody computes them in such a test."""
    settings.RECOMPUTE_DOORS = "tests.recompute_requests.keep"
    kept_requests.REQUESTS.clear()
    return kept_requests.REQUESTS


@pytest.fixture
def installation(tmp_path: Path) -> Installation:
    """The program with an empty data folder, everything in one process."""
    folder = tmp_path / "data"
    folder.mkdir()
    return Installation(folder, {})


@pytest.fixture(scope="session")
def cluster() -> Iterator[postgresql.Cluster]:
    """A running PostgreSQL."""
    with postgresql.started_cluster() as running:
        yield running


@pytest.fixture
def redis_url(tmp_path: Path) -> Iterator[str]:
    """The address of a running Redis that nobody else uses."""
    folder = tmp_path / "redis"
    folder.mkdir()
    with redis_server.started_redis(folder) as url:
        yield url


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """A running Chromium."""
    with pytest.MonkeyPatch.context() as patch:
        # Playwright's loop runs in this thread, which Django takes for asynchronous code.
        patch.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "1")
        with chromium.started_chromium() as started:
            yield started


def opened_page(browser: Browser, *, size: dict[str, int], site: str) -> Iterator[Page]:
    """A page in a profile of its own; an error in the browser's console fails the test."""
    with browser.new_context(viewport=size, base_url=site) as context:
        page = context.new_page()
        errors: list[str] = []
        page.on("pageerror", lambda error: errors.append(str(error)))
        page.on(
            "console",
            lambda message: errors.append(message.text) if message.type == "error" else None,
        )
        page.set_default_timeout(15_000)
        yield page
        assert not errors, f"The browser's console holds errors: {errors}"


@pytest.fixture
def phone(browser: Browser, live_server) -> Iterator[Page]:  # type: ignore[no-untyped-def]
    """A page of a phone's width at the live site."""
    yield from opened_page(browser, size=PHONE, site=live_server.url)


@pytest.fixture
def desk(browser: Browser, live_server) -> Iterator[Page]:  # type: ignore[no-untyped-def]
    """A page of a desk's width at the live site."""
    yield from opened_page(browser, size=DESK, site=live_server.url)


class Idle:
    """A thread that is never begun."""

    def __init__(self, *, name: str, **_work: object) -> None:
        self.name = name

    def start(self) -> None:
        """Leave the work alone."""


@pytest.fixture(autouse=True)
def nothing_beside(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Pages begin no thread where the test's tables are rolled back.

    It would outlive the test, on a line of its own, and write into the tables of those after it.
    """
    marker = request.node.get_closest_marker("django_db")
    asked = set(request.fixturenames)
    if marker is None and "db" not in asked:
        return
    if (marker and marker.kwargs.get("transaction")) or asked & {"transactional_db", "live_server"}:
        return
    for module in ("scheduling.running", "checking.running", "running", "tasks"):
        monkeypatch.setattr(f"analytics.{module}.Thread", Idle)
    monkeypatch.setattr("inspections.tasks.Thread", Idle)
