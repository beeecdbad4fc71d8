"""Names and cautions that come with the program: translated on pages, kept on record."""

from __future__ import annotations

from importlib import import_module

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import translation

from fleetdoors import shipped_words
from fleetdoors.models import Caution, Component, MaintenanceTask, Role
from tests.factories import make_user

brought_in = import_module("fleetdoors.migrations.0002_reference_data")


def test_the_words_are_those_of_the_migration() -> None:
    assert tuple(name for _code, name, _kind in brought_in.COMPONENTS) == shipped_words.COMPONENTS
    assert tuple(row[1] for row in brought_in.TASKS) == shipped_words.TASKS
    assert tuple(text for _code, _word, text in brought_in.CAUTIONS) == shipped_words.CAUTIONS


def test_every_word_has_a_translation() -> None:
    every = (*shipped_words.COMPONENTS, *shipped_words.TASKS, *shipped_words.CAUTIONS)
    with translation.override("es"):
        same = [each for each in every if shipped_words.in_readers_words(each) == each]
    assert same == []


@pytest.mark.django_db
def test_what_a_fleet_worded_itself_stays_as_typed() -> None:
    spring = Component.objects.get(code="spring")
    caution = Caution.objects.get(code="C12")
    task = MaintenanceTask.objects.get(code="LUB")
    with translation.override("es"):
        assert (str(spring), str(task)) == ("Resorte", "Lubricación")
        assert caution.words.startswith("Los paneles")
        spring.name, caution.text, task.name = "Big spring", "Two of us lift.", "Grease it"
        assert (str(spring), caution.words, str(task)) == (
            "Big spring",
            "Two of us lift.",
            "Grease it",
        )


@pytest.mark.django_db
def test_a_page_speaks_spanish_and_the_form_that_changes_the_row_keeps_the_stored_words() -> None:
    client = Client(headers={"accept-language": "es"})
    client.force_login(make_user(role=Role.ADMINISTRATOR, is_superuser=True))
    try:
        page = client.get(reverse("task-list")).content.decode()
        task = MaintenanceTask.objects.get(code="LFT")
        form = client.get(
            reverse("admin:fleetdoors_maintenancetask_change", args=[task.pk])
        ).content.decode()
    finally:
        translation.deactivate()
    assert "Revisión de cerca de cables de elevación y resortes" in page
    assert "Close look at lift cables" not in page
    assert 'value="Close look at lift cables and springs"' in form
    task.refresh_from_db()
    assert task.name == "Close look at lift cables and springs"
