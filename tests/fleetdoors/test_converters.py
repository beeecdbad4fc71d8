"""Serials survive the way into an address and back."""

from urllib.parse import unquote

import pytest
from django.urls import resolve, reverse
from hypothesis import given
from hypothesis import strategies as st

from fleetdoors.converters import KeyConverter

ODD = ["D 17", "A/12", "../x", "..", ".", "~2F", "7~", "50%", "a?b#c", "Tür-9", "A/reading", "a+b"]


@pytest.mark.parametrize("serial", ODD)
def test_an_odd_serial_comes_back_from_its_address(serial: str) -> None:
    path = unquote(reverse("reading-new", args=[serial]))
    assert resolve(path).kwargs == {"door": serial}
    assert ".." not in path.split("/")
    assert "." not in path.split("/")


def test_an_address_with_the_slash_as_it_is_still_finds_the_door() -> None:
    assert resolve("/doors/A/12/reading/").kwargs == {"door": "A/12"}


@given(st.text(min_size=1))
def test_every_text_survives(serial: str) -> None:
    converter = KeyConverter()
    piece = converter.to_url(serial)
    assert converter.to_python(piece) == serial
    assert "/" not in piece
