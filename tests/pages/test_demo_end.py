"""Leaving the demo: asked of an administrator, done by a command of its own."""

import subprocess
from pathlib import Path

import pytest
from django.urls import reverse
from pytest_django.fixtures import Settings

from analytics.demo import OtherFleetError, prepare_demo
from fleetdoors.demo_people import PASSWORD_FILE, demo_password
from fleetdoors.models import Role
from fleetdoors.services.demo_end import NoDemoError, remove_demo
from tests.factories import NOW, make_user
from tests.pages.conftest import SignIn

pytestmark = pytest.mark.django_db
ANSWERS = {
    "administrator": "kit",
    "password": "tall-ladder-97",
    "again": "tall-ladder-97",
    "is_meant": "on",
}


@pytest.fixture
def demo(settings: Settings, tmp_path: Path) -> Path:
    """A data folder in which the demo was started."""
    settings.DATA_DIR, settings.DEMO = tmp_path, True
    demo_password(tmp_path)
    return tmp_path


@pytest.fixture
def commands(monkeypatch: pytest.MonkeyPatch) -> list[tuple[list[str], str]]:
    """What would have been run, and what was written to it."""
    ran = []

    def run(command, **options):  # type: ignore[no-untyped-def]
        ran.append((command[2:], options["input"]))
        return subprocess.CompletedProcess(
            command, 1 if "fail" in options["input"] else 0, "", "no room"
        )

    monkeypatch.setattr("fleetdoors.views.demo_end.subprocess.run", run)
    return ran


def test_only_a_demo_can_be_left_and_only_by_an_administrator(
    sign_in: SignIn, demo: Path, commands: list[tuple[list[str], str]]
) -> None:
    address = reverse("demo-end")
    administrator = sign_in(Role.ADMINISTRATOR)
    assert administrator.get(address).status_code == 200
    assert address in administrator.get(reverse("further")).content.decode()
    planner = sign_in(Role.PLANNER)
    assert planner.get(address).status_code == 403
    assert address not in planner.get(reverse("further")).content.decode()
    (demo / PASSWORD_FILE).unlink()
    empty = administrator.get(address).content.decode()
    assert "There is no demo here" in empty
    assert 'name="password"' not in empty
    administrator.post(address, ANSWERS)
    assert not commands, "nothing is removed where no demo is"
    page = administrator.get(reverse("further")).content.decode()
    assert "This is a demo" not in page
    assert address not in page


def test_nothing_typed_is_on_the_command_line(
    sign_in: SignIn, demo: Path, commands: list[tuple[list[str], str]]
) -> None:
    client = sign_in(Role.ADMINISTRATOR)
    response = client.post(reverse("demo-end"), ANSWERS)
    assert commands == [(["demo", "--remove"], "kit\ntall-ladder-97\n")]
    assert (response.status_code, response.url) == (302, reverse("sign-in"))


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"again": "another-97"}, "The two passwords differ."),
        ({"password": "kit", "again": "kit"}, "too short"),
        ({"administrator": "k t"}, "Enter a valid username"),
        ({"is_meant": ""}, "This field is required"),
    ],
)
def test_nothing_goes_by_accident(
    sign_in: SignIn,
    demo: Path,
    commands: list[tuple[list[str], str]],
    changed: dict[str, str],
    said: str,
) -> None:
    page = sign_in(Role.ADMINISTRATOR).post(reverse("demo-end"), ANSWERS | changed)
    assert said in page.content.decode()
    assert not commands


def test_a_removal_that_fails_is_said(
    sign_in: SignIn, demo: Path, commands: list[tuple[list[str], str]]
) -> None:
    answers = ANSWERS | {"administrator": "fail"}
    page = sign_in(Role.ADMINISTRATOR).post(reverse("demo-end"), answers).content.decode()
    assert "The demo is still there. no room" in page


def test_what_is_no_demo_is_not_removed(settings: Settings, tmp_path: Path) -> None:
    settings.DATA_DIR = tmp_path
    person = make_user()
    with pytest.raises(NoDemoError, match="Nothing was changed"):
        remove_demo(administrator="kit", password="tall-ladder-97")
    person.refresh_from_db()


def test_the_demo_does_not_come_back_by_itself(settings: Settings, tmp_path: Path) -> None:
    settings.DATA_DIR = tmp_path
    make_user(role=Role.ADMINISTRATOR)
    with pytest.raises(OtherFleetError, match="nothing was changed"):
        prepare_demo(now=NOW)
    assert not (tmp_path / PASSWORD_FILE).exists()
