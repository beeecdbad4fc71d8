"""The way in: guesses are locked out, weak passwords refused, and an idle session ends."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.conf import settings
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from fleetdoors.models import User
from tests.factories import NOW

pytestmark = pytest.mark.django_db
PASSWORD = "doors roll up at dawn"
OK, MOVED, LOCKED = 200, 302, 429
HOURS = 12


@pytest.fixture
def kim() -> User:
    return User.objects.create_user("kim", password=PASSWORD)


def tried(client: Client, password: str, username: str = "kim") -> int:
    given = {"username": username, "password": password}
    return client.post(reverse("sign-in"), given).status_code


def test_eight_wrong_guesses_lock_the_name_also_for_the_right_password(kim: User) -> None:
    client = Client()
    answers = [tried(client, f"guess {number}") for number in range(8)]
    assert answers[:7] == [OK] * 7
    assert tried(client, PASSWORD) == LOCKED
    assert "_auth_user_id" not in client.session


def test_seven_wrong_guesses_still_let_the_right_one_in(kim: User) -> None:
    client = Client()
    for number in range(7):
        tried(client, f"guess {number}")
    assert tried(client, PASSWORD) == MOVED
    assert client.session["_auth_user_id"] == str(kim.pk)


def test_a_name_that_nobody_has_is_answered_as_a_wrong_password_is(kim: User) -> None:
    wrong, unknown = (
        Client().post(reverse("sign-in"), {"username": name, "password": "guess"}).context["form"]
        for name in ("kim", "nobody")
    )
    assert list(wrong.non_field_errors()) == list(unknown.non_field_errors())
    assert wrong.non_field_errors()


@pytest.mark.parametrize("password", ["short1!", "password1234", "kimkimkimkim", "eleven sign"])
def test_a_weak_password_is_refused(password: str) -> None:
    with pytest.raises(ValidationError):
        validate_password(password, User(username="kimkimkimkim"))


@pytest.mark.parametrize("password", ["doors roll up at dawn", "ж" * 64, "all lower case words"])
def test_a_long_password_needs_no_odd_signs(password: str) -> None:
    validate_password(password, User(username="kim"))


def test_a_session_ends_twelve_hours_after_the_last_page(
    kim: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    client, clock = Client(), [NOW.timestamp()]
    monkeypatch.setattr("django.core.signing.time.time", lambda: clock[0])
    client.force_login(kim)
    page = reverse("door-list")
    for _look in range(3):
        clock[0] += timedelta(hours=HOURS - 1).total_seconds()
        assert client.get(page).status_code == OK
    clock[0] += timedelta(hours=HOURS, minutes=1).total_seconds()
    answer = client.get(page)
    assert answer.status_code == MOVED
    assert answer["Location"].startswith(reverse("sign-in"))


def test_a_new_password_ends_every_session(kim: User) -> None:
    client = Client()
    client.force_login(kim)
    assert client.get(reverse("door-list")).status_code == OK
    kim.set_password("another long enough one")
    kim.save()
    assert client.get(reverse("door-list")).status_code == MOVED


def test_a_person_switched_off_is_out_at_once(kim: User) -> None:
    client = Client()
    client.force_login(kim)
    kim.is_active = False
    kim.save()
    assert client.get(reverse("door-list")).status_code == MOVED


def test_the_way_back_after_signing_in_stays_on_this_site(kim: User) -> None:
    given = {"username": "kim", "password": PASSWORD, "next": "https://elsewhere.example/"}
    answer = Client().post(reverse("sign-in"), given)
    assert answer["Location"] == reverse(settings.LOGIN_REDIRECT_URL)


def test_every_page_keeps_scripts_frames_and_types_in_their_place(kim: User) -> None:
    answer = Client().get(reverse("sign-in"))
    policy = answer["Content-Security-Policy"]
    for rule in ("object-src 'none'", "base-uri 'none'", "frame-ancestors 'none'"):
        assert rule in policy
    assert "unsafe" not in policy
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Referrer-Policy"] == "same-origin"
    assert answer.cookies["csrftoken"]["samesite"] == "Lax"
    client = Client()
    client.force_login(kim)
    session = client.get(reverse("door-list")).cookies[settings.SESSION_COOKIE_NAME]
    assert (bool(session["httponly"]), session["samesite"]) == (True, "Lax")


def test_a_form_without_its_own_token_is_refused(kim: User) -> None:
    client = Client(enforce_csrf_checks=True)
    client.force_login(kim)
    assert client.post(reverse("sign-out")).status_code == 403
