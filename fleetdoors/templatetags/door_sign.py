"""The slat door in templates: ``{% door_sign share state 20 %}``."""

from functools import lru_cache

from django import template
from django.template.loader import render_to_string
from django.utils.safestring import SafeString

from fleetdoors.door_sign import DoorSign, DoorState, draw_door

register = template.Library()

SMALLEST, LARGEST = 20, 160


@register.simple_tag
def door_sign(share: float | None, state: DoorState | str, size: int = 20) -> SafeString:
    """The drawing alone, hidden from screen readers: words must stand beside it."""
    if not SMALLEST <= size <= LARGEST:
        raise ValueError(f"A door sign is {SMALLEST} to {LARGEST} pixels high, got {size}")
    return _markup(draw_door(share, state), size)


@lru_cache(maxsize=2048)
def _markup(sign: DoorSign, size: int) -> SafeString:
    """A page may show hundreds of signs of a few dozen shapes: each shape is rendered once."""
    return render_to_string("components/door_sign.html", {"sign": sign, "size": size})
