"""The Spanish of every text: that it is there, is compiled, and keeps what it stands for."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from babel.messages.catalog import Message
from django.test import Client
from django.urls import reverse
from django.utils import translation

from fleetdoors.templatetags.units import number
from tests.services.words import (
    LANGUAGES,
    catalogue,
    compiled,
    read_catalogue,
    texts_of_the_program,
    without_translation,
)


@pytest.fixture(autouse=True)
def english_again() -> Iterator[None]:
    """A request leaves its language to the thread: what follows is asked in English."""
    yield
    translation.deactivate()


# A text that was changed this morning may stay English for a while, but no page may.
MOST_WITHOUT = 0.02
MARKS = re.compile(r"%\(\w+\)[sd]|%\(\w+\)|\{[a-z_]*\}|<[^>]+>|&\w+;")


def _pairs(message: Message) -> list[tuple[str, str]]:
    if not isinstance(message.id, tuple):
        return [(message.id, str(message.string))]
    return [(message.id[-1], said) for said in message.string[-1:]]


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_texts_are_there_in_the_language(language: str) -> None:
    missing = without_translation(language)
    assert len(missing) <= MOST_WITHOUT * len(texts_of_the_program()), (
        f"{len(missing)} texts have no translation: `make words`, then {catalogue(language)}"
    )


@pytest.mark.parametrize("language", LANGUAGES)
def test_what_is_compiled_is_what_was_written(language: str) -> None:
    assert catalogue(language).with_suffix(".mo").read_bytes() == compiled(language), (
        "run `make words`"
    )


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_translation_keeps_the_values_and_tags_of_its_text(language: str) -> None:
    broken = [
        (source, said)
        for message in read_catalogue(language)
        if message.id
        for source, said in _pairs(message)
        if said and set(MARKS.findall(source)) != set(MARKS.findall(said))
    ]
    assert broken == []


def test_numbers_in_spanish_keep_the_point_of_the_yards_instruments() -> None:
    with translation.override("es"):
        assert number(4870.5, 1) == "4,870.5"


@pytest.mark.django_db
def test_a_language_once_chosen_stays(client: Client) -> None:
    first = client.get(reverse("sign-in"))
    assert "Sign in" in first.content.decode()
    assert 'value="es" lang="es"' in first.content.decode()
    client.post(reverse("language"), {"language": "es", "next": reverse("sign-in")})
    said = client.get(reverse("sign-in")).content.decode()
    assert '<html lang="es">' in said
    assert "Iniciar sesión" in said
    assert 'value="en" lang="en"' in said


@pytest.mark.django_db
def test_a_browser_that_asks_for_spanish_gets_it(client: Client) -> None:
    said = client.get(reverse("sign-in"), headers={"accept-language": "es-MX,es;q=0.9"})
    assert '<html lang="es">' in said.content.decode()
