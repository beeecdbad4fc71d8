"""Sentences that the program wrote on record, in the language and the units of whoever reads.

What a value past its limit opens, where a limit is from, why stock moved: such texts are kept as
they were written, in the language of whoever worked then and in the units of the record. They are
known again by their pattern, with the values in it, and said anew; what a person typed is none of
these and stays as typed, but for the measures in it.
"""

from __future__ import annotations

import re
from functools import lru_cache

from django.conf import settings
from django.utils import translation
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from fleetdoors.measures import System
from fleetdoors.units_in_use import in_words, units
from inspections.codes import Complaint
from inspections.quantities import QUANTITIES

# A test holds the first block together with `limits`.
SENTENCES = (
    gettext_noop("as looked at"),
    gettext_noop("common practice, no source"),
    gettext_noop("door model %(code)s"),
    gettext_noop("drift in 10 s, %(practice)s"),
    gettext_noop("%(volts)g V truck, %(practice)s"),
    gettext_noop("charging, engine on, %(practice)s"),
    gettext_noop("within 1.0 V of the converter's output, %(volts).1f V in this run"),
    gettext_noop("this door's own cable when new: %(drop).2f V at this current"),
    gettext_noop("cable drop without a measured current, %(practice)s"),
    gettext_noop("AWG %(awg)d, %(metres)g m at %(amps)g A: %(drop).2f V (NBS Handbook 100)"),
    gettext_noop("%(times)g times this door's own value when new, %(value)g"),
    gettext_noop("entered after the count that saw it"),
    gettext_noop("the use was corrected"),
    gettext_noop("kit %(kit)s"),
    gettext_noop("claim: %(what)s"),
    gettext_noop("told on the telephone by %(name)s"),
    gettext_noop("Found while tracing “%(symptom)s”: %(verdict)s"),
)
# Values that are the program's own words as well.
_OWN_WORDS = ("practice", "symptom")
_VALUE = re.compile(r"%\((\w+)\)(s|[.\d]*[dfg])")
COMPLAINTS = tuple(each.label for each in Complaint)
_NUMBER = r"[-−]?\d[\d.]*(?:e[-+]?\d+)?"


def as_read(text: object) -> str:
    """A text on record as it is shown: said anew if the program wrote it, in the units in use."""
    return in_words(_said_anew(str(text)))


def _said_anew(text: str) -> str:
    for sentence, pattern in _patterns():
        found = pattern.fullmatch(text)
        if found:
            return _filled(sentence, found.groupdict())
    return _finding(text) or text


def _filled(sentence: str, values: dict[str, str]) -> str:
    said = {
        name: str(_labels().get(value) or _said_anew(value)) if name in _OWN_WORDS else value
        for name, value in values.items()
    }
    return _VALUE.sub(r"%(\1)s", _(sentence)) % said if said else _(sentence)


def _finding(text: str) -> str:
    """A measurement past its limit, such as “Drag: 180 N”; empty where it is none."""
    name, colon, words = text.rpartition(": ")
    code = _names().get(name) if colon else None
    if code is None:
        return ""
    said = _labels().get(words, words)
    return _("%(name)s: %(words)s") % {"name": QUANTITIES[code].name, "words": said}


@lru_cache(maxsize=1)
def _patterns() -> tuple[tuple[str, re.Pattern[str]], ...]:
    """Each sentence as it was written in each language."""
    found: dict[tuple[str, str], None] = {}
    for language, _name in settings.LANGUAGES:
        with translation.override(language):
            found.update({(each, _pattern(_(each))): None for each in SENTENCES})
    return tuple((sentence, re.compile(pattern)) for sentence, pattern in found)


def _pattern(sentence: str) -> str:
    parts, at = [], 0
    for value in _VALUE.finditer(sentence):
        kind = ".+" if value[2] == "s" else _NUMBER
        parts += [re.escape(sentence[at : value.start()]), f"(?P<{value[1]}>{kind})"]
        at = value.end()
    return "".join((*parts, re.escape(sentence[at:]))).replace("%%", "%")


@lru_cache(maxsize=1)
def _names() -> dict[str, str]:
    """The code of each quantity by its name in each language, in the units of the record."""
    found = {}
    for language, _name in settings.LANGUAGES:
        with translation.override(language), units(System.METRIC):
            found.update({str(each.name): code for code, each in QUANTITIES.items()})
    return found


@lru_cache(maxsize=1)
def _labels() -> dict[str, Promise | str]:
    """Grades and complaints by their words in each language."""
    found: dict[str, Promise | str] = {}
    known = [word for each in QUANTITIES.values() for _value, word in each.grades]
    for language, _name in settings.LANGUAGES:
        with translation.override(language):
            found.update({str(word): word for word in (*known, *COMPLAINTS)})
    return found
