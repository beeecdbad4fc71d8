"""Numbers, dates and intervals as people read them."""

import datetime as dt
import math

from django import template
from django.utils import timezone
from django.utils.formats import date_format, number_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from fleetdoors.models import Depot
from fleetdoors.units_in_use import in_words, scale_in_use

register = template.Library()

UNKNOWN = "–"
Number = int | float


@register.filter
def number(value: Number | None, decimals: int = 0) -> str:
    """A number with grouped digits: 4870 becomes 4,870."""
    if value is None or not math.isfinite(value):
        return UNKNOWN
    rounded = round(float(value), decimals) + 0.0  # adding 0.0 turns -0.0 into 0.0
    return number_format(rounded, decimal_pos=decimals, force_grouping=True)


def figure(value: Number | None, unit: str, decimals: int = 0) -> str:
    """A kept value in the units in use, without their name; `decimals` where none are usual."""
    if value is None:
        return UNKNOWN
    scale = scale_in_use(unit)
    return number(scale.shown(value), decimals if scale.decimals is None else scale.decimals)


@register.filter
def unit_shown(unit: str) -> str:
    """The name of the unit in use for a kept one: mm, or in."""
    return scale_in_use(unit).unit


def measured(value: Number | None, unit: str, decimals: int = 0) -> str:
    """A kept value with the unit in use: 150 mm, or 5.91 in."""
    return f"{figure(value, unit, decimals)} {unit_shown(unit)}".strip()


@register.filter
def as_typed(value: Number, unit: str) -> str:
    """A kept value in the units in use, as somebody would type it: 5.91, without grouping."""
    scale = scale_in_use(unit)
    shown = scale.shown(value)
    return f"{shown if scale.decimals is None else round(shown, scale.decimals):g}"


@register.filter(name="measured")
def measured_in(value: Number | None, unit: str) -> str:
    """The same for a template, to a hundredth where it is not converted."""
    return measured(value, unit, 2)


@register.filter
def in_units(text: object) -> str:
    """A text with the measures in it, such as 25 mm, in the units of whoever looks."""
    return in_words(text)


@register.filter
def cycles(value: Number | None) -> str:
    """A count of door cycles with its unit."""
    if value is None:
        return UNKNOWN
    return ngettext("%(count)s cycle", "%(count)s cycles", round(value)) % {"count": number(value)}


@register.filter
def per_day(value: Number | None) -> str:
    """A rate of use in cycles a day."""
    if value is None:
        return UNKNOWN
    return _("%(count)s a day") % {"count": number(value, 1 if value < 100 else 0)}


@register.filter
def per_cent(share: Number | None, decimals: int = 0) -> str:
    """A share from 0 to 1 as per cent; what is not quite none or all does not read so."""
    if share is None:
        return UNKNOWN
    smallest = 10.0**-decimals
    if 0 < share * 100 < smallest / 2:
        return _("under %(share)s %%") % {"share": number(smallest, decimals)}
    if 100 - smallest / 2 <= share * 100 < 100:
        return _("over %(share)s %%") % {"share": number(100 - smallest, decimals)}
    return _("%(share)s %%") % {"share": number(share * 100, decimals)}


@register.filter
def times_in_ten(chance: Number | None) -> str:
    """A chance in words that need no statistics: 0.8 becomes 8 times in 10."""
    if chance is None:
        return UNKNOWN
    if not 0 <= chance <= 1:
        raise ValueError(f"A chance must lie between 0 and 1, got {chance!r}")
    if 0.1 <= chance <= 0.9:
        return _in_every(round(chance * 10), 10)
    return _in_every(round(chance * 100), 100)


def _in_every(times: int, every: int) -> str:
    return ngettext("%(times)d time in %(every)d", "%(times)d times in %(every)d", times) % {
        "times": times,
        "every": every,
    }


@register.simple_tag
def used_of(used: Number | None, interval: Number | None) -> str:
    """How much of an interval is used up: 4,870 of 5,000 cycles."""
    return _("%(used)s of %(interval)s") % {"used": number(used), "interval": cycles(interval)}


@register.simple_tag
def between(low: Number | None, high: Number | None, decimals: int = 0) -> str:
    """An interval in words; one without an upper end says at least."""
    if low is None:
        return UNKNOWN
    if high is None or not math.isfinite(high):
        return _("at least %(low)s") % {"low": number(low, decimals)}
    return _("%(low)s to %(high)s") % {
        "low": number(low, decimals),
        "high": number(high, decimals),
    }


@register.filter
def day(value: dt.date | None) -> str:
    """A date with its weekday and year: Tue 1 Dec 2026."""
    return UNKNOWN if value is None else date_format(_local(value), "D j M Y")


@register.filter
def short_day(value: dt.date | None) -> str:
    """A date near enough to need no year: Tue 1 Dec."""
    return UNKNOWN if value is None else date_format(_local(value), "D j M")


@register.filter
def moment(value: dt.datetime | None) -> str:
    """A moment in the zone in force: Tue 1 Dec 2026, 14:05."""
    return UNKNOWN if value is None else date_format(_local(value), "D j M Y, H:i")


@register.filter
def moment_at(value: dt.datetime | None, depot: Depot | None) -> str:
    """A moment by the clock of a depot; by the one in force for a door that is at none."""
    with timezone.override(depot.zone if depot else timezone.get_current_timezone()):
        return moment(value)


@register.filter
def short_day_at(value: dt.datetime | None, depot: Depot | None) -> str:
    """The day of a moment by the clock of a depot, without its year."""
    with timezone.override(depot.zone if depot else timezone.get_current_timezone()):
        return short_day(value)


@register.simple_tag
def day_range(first: dt.date | None, last: dt.date | None) -> str:
    """Two dates as a stretch, saying the year only once: 28 Nov to 8 Dec 2026."""
    if first is None or last is None:
        return UNKNOWN
    if first == last:
        return date_format(first, "j M Y")
    start = "j M" if first.year == last.year else "j M Y"
    return _("%(first)s to %(last)s") % {
        "first": date_format(first, start),
        "last": date_format(last, "j M Y"),
    }


@register.filter
def days_away(value: dt.date | None, as_of: dt.date) -> str:
    """How far a date lies from the day asked about: in 6 days, today, 12 days ago."""
    if value is None:
        return UNKNOWN
    days = (_plain_day(value) - _plain_day(as_of)).days
    if days == 0:
        return _("today")
    if days > 0:
        return ngettext("in %(days)s day", "in %(days)s days", days) % {"days": number(days)}
    return ngettext("%(days)s day ago", "%(days)s days ago", -days) % {"days": number(-days)}


@register.filter
def duration(minutes: Number | None) -> str:
    """Working time: 95 becomes 1 h 35 min."""
    if minutes is None:
        return UNKNOWN
    hours, rest = divmod(round(minutes), 60)
    if not hours:
        return _("%(minutes)d min") % {"minutes": rest}
    if not rest:
        return _("%(hours)d h") % {"hours": hours}
    return _("%(hours)d h %(minutes)d min") % {"hours": hours, "minutes": rest}


def _local(value: dt.date) -> dt.date:
    if isinstance(value, dt.datetime) and timezone.is_aware(value):
        return timezone.localtime(value)
    return value


def _plain_day(value: dt.date) -> dt.date:
    local = _local(value)
    return local.date() if isinstance(local, dt.datetime) else local
