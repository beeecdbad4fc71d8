"""A person signs in with a real browser, at a live server on a database file."""

import pytest
from django.urls import reverse
from playwright.sync_api import Page, expect

from fleetdoors.models import Component, Role, User

pytestmark = pytest.mark.browser

PASSWORD = "a long enough secret"


@pytest.fixture
def planner(transactional_db: None) -> User:
    return User.objects.create_user("pat", password=PASSWORD, role=Role.PLANNER)


def sign_in(page: Page, *, username: str, password: str) -> None:
    page.goto(reverse("sign-in"))
    page.locator("input[name=username]").fill(username)
    page.locator("input[name=password]").fill(password)
    page.locator("main button[type=submit], main input[type=submit]").first.click()


def test_a_planner_signs_in_on_a_phone(phone: Page, planner: User) -> None:
    sign_in(phone, username="pat", password=PASSWORD)
    phone.wait_for_url(f"**{reverse('today')}")
    expect(phone.locator("h1")).to_be_visible()


def test_a_wrong_password_stays_at_the_door_with_a_reason(desk: Page, planner: User) -> None:
    sign_in(desk, username="pat", password="not the secret")
    expect(desk.locator("main")).to_contain_text("password")
    assert desk.url.endswith(reverse("sign-in"))


def test_the_reference_data_survives_tests_that_empty_the_tables(planner: User) -> None:
    assert Component.objects.filter(code="spring").exists()
