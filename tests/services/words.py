"""Bring the catalogue of another language up to date with the texts, and compile it.

Run by `make words`. The compiled catalogue is kept in the repository, so that an install needs no
tools for it.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path

from babel.messages.catalog import Catalog, Message
from babel.messages.extract import DEFAULT_KEYWORDS, extract
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po, write_po
from django.utils.translation.template import templatize

ROOT = Path(__file__).resolve().parents[2]
LOCALE = ROOT / "fleetdoors" / "locale"
LANGUAGES = ("es",)
APPS = ("fleetdoors", "inspections", "analytics")
KEYWORDS = {
    **DEFAULT_KEYWORDS,
    "gettext_lazy": None,
    "_t": None,
    "_now": None,
    "gettext_noop": None,
    "ngettext_lazy": (1, 2),
    "pgettext_lazy": ((1, "c"), 2),
    "npgettext_lazy": ((1, "c"), 2, 3),
}


def catalogue(language: str) -> Path:
    """The text file of a language's catalogue."""
    return LOCALE / language / "LC_MESSAGES" / "django.po"


def read_catalogue(language: str) -> Catalog:
    """Every text of the program with its translation, empty where there is none."""
    with catalogue(language).open("rb") as file:
        return read_po(file, locale=language)


def texts_of_the_program() -> Catalog:
    """Every text that the code and the templates mark as one to translate."""
    found = Catalog()
    for id_, context in _marked():
        found.add(id_, context=context)
    return found


def _marked() -> Iterator[tuple[str | tuple[str, ...], str | None]]:
    for app in APPS:
        for path in sorted((ROOT / app).rglob("*.py")):
            yield from _texts(path.read_bytes())
    for path in sorted([*(ROOT / "templates").rglob("*.*"), *ROOT.glob("*/templates/**/*.*")]):
        code = templatize(path.read_text(encoding="utf-8"))
        # A template's own indentation would mean something in Python.
        yield from _texts("\n".join(map(str.lstrip, code.splitlines())).encode())


def _texts(code: bytes) -> Iterator[tuple[str | tuple[str, ...], str | None]]:
    for _line, id_, _comments, context in extract("python", BytesIO(code), KEYWORDS):
        yield id_, context


def without_translation(language: str) -> list[Message]:
    """The texts of the program that stay English in that language."""
    known = read_catalogue(language)
    return [
        each
        for each in texts_of_the_program()
        if each.id and not _is_translated(known.get(each.id, each.context))
    ]


def _is_translated(message: Message | None) -> bool:
    if message is None or message.fuzzy:
        return False
    return all(message.string) if isinstance(message.string, tuple) else bool(message.string)


def compiled(language: str) -> bytes:
    """The catalogue as the program reads it."""
    file = BytesIO()
    write_mo(file, read_catalogue(language))
    return file.getvalue()


def bring_up_to_date(language: str) -> None:
    """Put new texts into the catalogue, take out those that are gone, and compile it."""
    known = read_catalogue(language)
    known.update(texts_of_the_program(), no_fuzzy_matching=True)
    known.obsolete.clear()
    with catalogue(language).open("wb") as file:
        write_po(file, known, width=100, sort_output=True, no_location=True)
    catalogue(language).with_suffix(".mo").write_bytes(compiled(language))


if __name__ == "__main__":
    for each in LANGUAGES:
        bring_up_to_date(each)
        missing = without_translation(each)
        sys.stdout.write(f"{each}: {len(missing)} texts without a translation\n")
        sys.stdout.writelines(f"  {message.id!r}\n" for message in missing)
