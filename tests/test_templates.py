"""Templates: every word can be translated, and nothing that the content policy forbids."""

import re
from html.parser import HTMLParser
from pathlib import Path

import pytest

from tests.source import ROOT, tracked_files

TEMPLATES = tuple(
    path
    for path in tracked_files()
    if path.suffix == ".html" and path.is_relative_to(ROOT / "templates")
)
SPOKEN = {"title", "alt", "placeholder", "aria-label", "aria-description", "value", "content"}
# Words that are the same in every language: the program's own name, units and signs.
SAME_EVERYWHERE = {"fleetdoors", "csv", "xlsx", "qr", "px", "mm", "ah", "n"}
BLOCKTRANS = re.compile(
    r"\{%-?\s*blocktrans(?:late)?\b.*?%\}.*?\{%\s*endblocktrans(?:late)?\s*%\}", re.DOTALL
)
COMMENT = re.compile(r"\{#.*?#\}|\{%\s*comment\b.*?endcomment\s*%\}", re.DOTALL)
# A block inside an attribute holds class names.
CLASSES = re.compile(r"\{%\s*block \w+_class\s*%\}.*?\{%\s*endblock", re.DOTALL)
TAG_OR_VALUE = re.compile(r"\{%.*?%\}|\{\{.*?\}\}", re.DOTALL)
WORD = re.compile(r"[^\W\d_]{2,}")


class Spoken(HTMLParser):
    """Collects the words that a person would see or hear."""

    def __init__(self) -> None:
        super().__init__()
        self.words: list[str] = []
        self.silent = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.silent += tag in ("script", "style")
        for name, value in attrs:
            is_button = tag in ("input", "button") and ("type", "submit") in attrs
            if tag == "meta" or (name == "value" and not is_button):
                continue
            if name in SPOKEN and value:
                self.words += WORD.findall(value)

    def handle_endtag(self, tag: str) -> None:
        self.silent -= tag in ("script", "style")

    def handle_data(self, data: str) -> None:
        if not self.silent:
            self.words += WORD.findall(data)


def untranslated(text: str) -> list[str]:
    """The words of a template that stand outside every translation tag."""
    text = CLASSES.sub("{%", text)
    for pattern in (COMMENT, BLOCKTRANS, TAG_OR_VALUE):
        text = pattern.sub("", text)
    parser = Spoken()
    parser.feed(text)
    return [word for word in parser.words if word.lower() not in SAME_EVERYWHERE]


def test_the_search_finds_words_that_nobody_translated() -> None:
    assert untranslated('<p title="Old">{% trans "New" %} door</p>') == ["Old", "door"]
    assert untranslated("{% blocktranslate %}All <b>{{ n }}</b>{% endblocktranslate %}") == []


def test_there_are_templates() -> None:
    assert ROOT / "templates" / "base.html" in TEMPLATES


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_every_word_of_a_template_can_be_translated(path: Path) -> None:
    assert untranslated(path.read_text()) == []


@pytest.mark.parametrize("path", TEMPLATES, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_a_template_keeps_to_the_content_policy(path: Path) -> None:
    text = COMMENT.sub("", path.read_text())
    assert re.findall(r"""\sstyle\s*=""", text) == []
    assert re.findall(r"""<[^>]*\son[a-z]+\s*=""", text) == []
    assert re.findall(r"<script(?![^>]*\bsrc=)[^>]*>", text) == []
    assert re.findall(r"<style\b", text) == []
    assert re.findall(r"""(?:src|href)\s*=\s*["'](?:https?:)?//""", text) == []
    assert re.findall(r"\|\s*safe\b|autoescape\s+off", text) == []
