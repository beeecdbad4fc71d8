"""Why a figure is missing, in the language of whoever reads.

The kernel knows no languages: it says why in an English sentence with numbers in it. Such sentences
are known again by their pattern and said anew; what is none of them stays as it is.
"""

from __future__ import annotations

import re
from functools import lru_cache

from django.utils.translation import gettext, gettext_noop

# A test holds these together with what the kernel says.
SENTENCES = (
    gettext_noop("No failure is recorded, so no trend can be seen."),
    gettext_noop("Failures on %(doors)s door(s) cannot show a trend of the group."),
    gettext_noop("With failures on %(doors)s doors hardly anything can be proved."),
    gettext_noop("A slope needs at least two failures, got %(count)s."),
    gettext_noop("The windows hold no cycles, so no slope fits."),
    gettext_noop("A failure at 0 cycles leaves the power law without a slope."),
    gettext_noop("The failures lie at the edge of their windows: no slope fits."),
    gettext_noop("No cycles were run under observation, so no life can be weighed."),
    gettext_noop("No cycles were run under observation, so no life can be fitted."),
    gettext_noop("No failure is recorded, so a life cannot be fitted."),
    gettext_noop("Only one failure is recorded: a shape needs at least two."),
    gettext_noop(
        "All failures lie at one age (%(age)s cycles) and no life is longer, so the shape has no "
        "upper limit."
    ),
    gettext_noop("The likelihood did not settle within %(steps)s steps."),
    gettext_noop("The likelihood still rises at shape %(shape)s: these lives carry no shape."),
    gettext_noop("The likelihood still rises at shape %(shape)s: the failures lie too close."),
    gettext_noop("The readings lie too far apart to tell at what age the parts failed."),
    gettext_noop("The likelihood has no peak: these lives carry no shape and scale."),
    gettext_noop("The likelihood is all but flat: these lives carry no scale."),
    gettext_noop(
        "One door only: without a second there is no spread between doors to give limits."
    ),
    gettext_noop("No failure is recorded, so there is no curve to draw."),
    gettext_noop("No failure was seen, so there is no survival curve to draw."),
    gettext_noop("No cycles are recorded, so a mean between failures cannot be given."),
    gettext_noop("No failure is recorded, so only a lower bound can be given."),
    gettext_noop("One door cannot be compared with itself."),
    gettext_noop("Nothing was expected to fail, so no share can be given."),
    gettext_noop("A trend needs measurements at three different cycles at least."),
    gettext_noop("No voltage drop has been measured on this cable."),
    gettext_noop("A delay needs defects found at checks and failures between them."),
)
_VALUE = re.compile(r"%\((\w+)\)s")


def why_missing(reason: str) -> str:
    """The reason, sentence by sentence, in the language in use."""
    for sentence, pattern in _patterns():
        found = pattern.search(reason)
        if found:
            said = gettext(sentence)
            said = said % found.groupdict() if found.groupdict() else said
            reason = reason[: found.start()] + said + reason[found.end() :]
    return reason


@lru_cache(maxsize=1)
def _patterns() -> tuple[tuple[str, re.Pattern[str]], ...]:
    return tuple((sentence, _pattern(sentence)) for sentence in SENTENCES)


def _pattern(sentence: str) -> re.Pattern[str]:
    literal, names = _VALUE.split(sentence)[::2], _VALUE.findall(sentence)
    values = [*(rf"(?P<{name}>[\d.e+-]+?)" for name in names), ""]
    parts = zip((re.escape(each) for each in literal), values, strict=True)
    return re.compile("".join(text + value for text, value in parts))
