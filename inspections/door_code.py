"""The short code on a door's label, readable by eye, with a last character that checks it.

The check is a weighted sum modulo the prime 31 over an alphabet of 31 characters without those that
look alike (0 O, 1 I L). The weights are all different and none is a multiple of 31, and so are the
differences of neighbours: every single wrong character and every swap of two neighbours changes
the sum (the reasoning of ISO 7064's pure systems, recalled; the weights are ours).
"""

from __future__ import annotations

import hashlib

ALPHABET = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
MODULUS = len(ALPHABET)
LENGTH = 7
_WEIGHTS = (2, 3, 5, 7, 11, 13, 1)


class DoorCodeError(ValueError):
    """What was typed is no code: a character is wrong, two are swapped, or some are missing."""


def code_for(serial: str, attempt: int = 0) -> str:
    """The code of a door's serial number; the attempt tells apart serials that fall together."""
    digest = hashlib.sha256(f"{serial}\n{attempt}".encode()).digest()
    number = int.from_bytes(digest[:8], "big")
    body = ""
    for _place in range(LENGTH - 1):
        number, digit = divmod(number, MODULUS)
        body += ALPHABET[digit]
    return body + check_character(body)


def check_character(body: str) -> str:
    """The last character of the code that begins so."""
    total = sum(weight * ALPHABET.index(each) for weight, each in zip(_WEIGHTS, body, strict=False))
    return ALPHABET[-total % MODULUS]


def read_code(typed: str) -> str:
    """The code as stored, from what was typed with blanks, hyphens or small letters.

    Raises DoorCodeError where it cannot be a code that was ever printed.
    """
    code = "".join(typed.upper().replace("-", "").split())
    if len(code) != LENGTH or any(each not in ALPHABET for each in code):
        raise DoorCodeError(f"A code has {LENGTH} characters of {ALPHABET}; {typed!r} does not.")
    if check_character(code[:-1]) != code[-1]:
        raise DoorCodeError(f"A character of {typed!r} is wrong, or two are swapped.")
    return code


def spoken(code: str) -> str:
    """The code in two groups, as printed."""
    return f"{code[:3]}-{code[3:]}"
