"""Serials and codes in addresses, whatever signs they are made of."""

import re

_ESCAPED = re.compile(r"~([0-9A-F]{2})")


class KeyConverter:
    """A serial or code as part of a path.

    A slash, a tilde and a lone dot would be read as part of the address itself, by servers and
    browsers alike and even when percent-encoded, so they are written ~2F, ~7E and ~2E.
    """

    regex = ".+?"

    def to_python(self, value: str) -> str:
        """The serial or code that a piece of the path stands for."""
        return _ESCAPED.sub(lambda match: chr(int(match[1], 16)), value)

    def to_url(self, value: str) -> str:
        """The piece of the path that stands for a serial or code."""
        text = str(value).replace("~", "~7E").replace("/", "~2F")
        return text.replace(".", "~2E") if text.strip(".") == "" else text
