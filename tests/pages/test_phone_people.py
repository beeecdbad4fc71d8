"""Who writes on a shared phone: the own PIN, the word it gives a phone, and the wrong tries."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from fleetdoors.models import Role, User
from inspections.models import PhonePin
from inspections.services.device_authors import author_of
from inspections.services.phone_pins import (
    CLOSED_FOR,
    MOST_WRONG_TRIES,
    PinRefusedError,
    set_pin,
    word_for_pin,
)
from tests.factories import NOW, make_user

pytestmark = pytest.mark.django_db

SECRET = "a long enough secret"


@pytest.fixture
def kim() -> User:
    person = make_user(username="kim")
    person.set_password(SECRET)
    person.save()
    return person


@pytest.fixture
def client(client: Client, kim: User) -> Client:
    client.force_login(kim)
    return client


def add(client: Client, person: User, pin: str) -> Any:
    return client.post(reverse("round-people-add"), {"person": person.pk, "pin": pin})


def test_a_person_sets_the_own_pin_by_the_word_of_the_own_password(
    client: Client, kim: User
) -> None:
    page = reverse("round-pin")
    wrong = client.post(page, {"pin": "4071", "again": "4071", "password": "not it"})
    assert "This is not your password." in wrong.content.decode()
    differs = client.post(page, {"pin": "4071", "again": "4072", "password": SECRET})
    assert "The two PINs differ." in differs.content.decode()
    assert not PhonePin.objects.exists()
    done = client.post(page, {"pin": "4071", "again": "4071", "password": SECRET}, follow=True)
    assert "Your PIN is set." in done.content.decode()
    row = PhonePin.objects.get(person=kim)
    assert "4071" not in row.pin_hash


@pytest.mark.parametrize("pin", ["407", "407140714", "40a1", "٤٠٧١", "1111", "3456", "9876", ""])
def test_a_pin_is_four_to_eight_digits_that_nobody_tries_first(kim: User, pin: str) -> None:
    with pytest.raises(PinRefusedError):
        set_pin(person=kim, pin=pin, set_at=NOW)
    assert not PhonePin.objects.exists()


def test_a_new_pin_takes_the_place_of_the_old_one(kim: User) -> None:
    set_pin(person=kim, pin="4071", set_at=NOW)
    set_pin(person=kim, pin="82736", set_at=NOW)
    with pytest.raises(PinRefusedError, match="not the PIN of kim"):
        word_for_pin(person=kim, pin="4071", asked_at=NOW)
    word = word_for_pin(person=kim, pin="82736", asked_at=NOW)
    assert author_of(word, sender=make_user()) == kim


def test_the_right_pin_gives_the_phone_the_word_of_its_person(client: Client) -> None:
    robin = make_user(username="robin")
    set_pin(person=robin, pin="4071", set_at=timezone.now())
    answer = add(client, robin, "4071").json()
    assert (answer["person"], answer["name"]) == (robin.pk, "robin")
    assert author_of(answer["author"], sender=make_user()) == robin


def test_five_wrong_tries_close_a_pin_for_a_while_also_to_the_right_one(kim: User) -> None:
    set_pin(person=kim, pin="4071", set_at=NOW)
    for _number in range(MOST_WRONG_TRIES):
        with pytest.raises(PinRefusedError, match="not the PIN"):
            word_for_pin(person=kim, pin="0000", asked_at=NOW)
    with pytest.raises(PinRefusedError, match="Too many wrong tries"):
        word_for_pin(person=kim, pin="4071", asked_at=NOW + CLOSED_FOR - timedelta(seconds=1))
    assert word_for_pin(person=kim, pin="4071", asked_at=NOW + CLOSED_FOR)


def test_a_right_try_forgets_the_wrong_ones_before(kim: User) -> None:
    set_pin(person=kim, pin="4071", set_at=NOW)
    for _round in range(3):
        for _number in range(MOST_WRONG_TRIES - 1):
            with pytest.raises(PinRefusedError, match="not the PIN"):
                word_for_pin(person=kim, pin="0000", asked_at=NOW)
        assert word_for_pin(person=kim, pin="4071", asked_at=NOW)


def test_a_wrong_pin_is_said_and_counted(client: Client) -> None:
    robin = make_user(username="robin")
    unset = add(client, robin, "4071")
    assert (unset.status_code, "has set no PIN yet" in unset.json()["message"]) == (403, True)
    set_pin(person=robin, pin="4071", set_at=timezone.now())
    wrong = add(client, robin, "4072")
    assert (wrong.status_code, wrong.json()["message"]) == (403, "This is not the PIN of robin.")
    assert PhonePin.objects.get().wrong_tries == 1


def test_who_makes_no_entries_is_given_no_word(client: Client) -> None:
    buyer = make_user(role=Role.BUYER)
    gone = make_user()
    gone.is_active = False
    gone.save()
    for person in (buyer, gone):
        set_pin(person=person, pin="4071", set_at=timezone.now())
        assert add(client, person, "4071").json() == {"message": "Choose a person."}
    client.force_login(buyer)
    assert client.get(reverse("round-people")).status_code == 403
    assert add(client, make_user(), "4071").status_code == 403


def test_the_page_names_those_who_have_a_pin(client: Client, kim: User) -> None:
    page = client.get(reverse("round-people")).content.decode()
    assert "Nobody has set a PIN yet" in page
    assert "Set your PIN" in page
    set_pin(person=kim, pin="4071", set_at=NOW)
    page = client.get(reverse("round-people")).content.decode()
    assert f'<option value="{kim.pk}">kim</option>' in page
    assert "Change it" in page
