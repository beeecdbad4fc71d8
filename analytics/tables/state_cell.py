"""A slat door with its words in a cell: written directly, for lists are long."""

from __future__ import annotations

from django.utils.functional import Promise
from django.utils.html import format_html
from django.utils.safestring import SafeString

from fleetdoors.templatetags.door_sign import door_sign

Words = str | Promise


def state_cell(*, share: float | None, state: str, words: Words, detail: Words) -> SafeString:
    """What the component of the same look shows, without a template per cell."""
    return format_html(
        '<span class="door-state">{}<span class="door-words"><strong>{}</strong>'
        '<span class="door-detail">{}</span></span></span>',
        door_sign(share, state),
        words,
        detail,
    )
