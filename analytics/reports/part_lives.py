"""The life of each part number of a component, and which of them fails more than its age says."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from analytics.models import PartOutlook
from analytics.reports.component_evidence import ComponentEvidence
from fleetdoors.models import Part
from fleetdoors.templatetags.units import UNKNOWN, between, number


@dataclass(frozen=True)
class PartsCompared:
    """The life of each part number, where several were fitted."""

    headings: list[str]
    rows: list[list[str]]

    @property
    def labelled(self) -> list[list[tuple[str, str]]]:
        """Each cell with its heading, for a phone."""
        return [list(zip(self.headings, row, strict=True)) for row in self.rows]


def parts_compared(found: ComponentEvidence, parts: Iterable[Part]) -> PartsCompared | None:
    """Lives by part number and revision; None with fewer than two."""
    known = {part.pk: part for part in parts}
    rows = [_part_row(each, known) for each in found.figures.get("parts", ())]
    if len(rows) < 2:
        return None
    return PartsCompared(
        headings=[
            _("Part"),
            _("Revision"),
            _("Lives"),
            _("Failed"),
            _("Expected by the life of the others"),
            _("Half have failed by, cycles"),
            _("Range, 9 times in 10"),
            _("Rests on"),
        ],
        rows=rows,
    )


def more_often_than_age(
    row: PartOutlook, found: ComponentEvidence | None, parts: Iterable[Part]
) -> list[str]:
    """Sentences where a part fails clearly more often than its age says; none where it does not."""
    known = {part.pk: part for part in parts}
    figures = found.figures.get("parts", ()) if found else ()
    said = [_who_fails(each, known) for each in figures if each.get("fails_more_often")]
    basis = row.explanation
    if not basis.get("factor_alert"):
        return said
    learned = _(
        "In the last %(weeks)s weeks parts of this kind failed %(factor)s times as often as their "
        "ages say."
    ) % {"weeks": number(basis.get("factor_weeks")), "factor": number(basis.get("factor"), 2)}
    return [learned, *(said or [_nobody_stands_out(len(figures))])]


def _who_fails(figures: dict[str, Any], known: dict[int, Part]) -> str:
    """The part number that fails more often than its like."""
    part = known.get(int(figures["part"]))
    name = part.part_number if part else _("A part of another component now")
    if part and part.revision:
        name = _("%(part)s, revision %(revision)s") % {"part": name, "revision": part.revision}
    return _(
        "%(part)s: %(failed)s failed where the life of the others lets %(expected)s be expected at "
        "the same ages, %(times)s times as often (%(range)s, 9 times in 10)."
    ) % {
        "part": name,
        "failed": number(int(figures["failures"])),
        "expected": number(float(figures["expected_by_others"]), 1),
        "times": number(float(figures["times_others"]), 1),
        "range": between(
            float(figures["times_others_lower"]), float(figures["times_others_upper"]), 1
        ),
    }


def _nobody_stands_out(numbers: int) -> str:
    if numbers < 2:
        return _(
            "Only one part number is on record, so no revision can be told apart. Note the "
            "revision of what is fitted, and look for a bad batch or something that harms them."
        )
    return _(
        "No part number stands out against the others. Look for a bad batch, or something that "
        "harms them."
    )


def _part_row(figures: dict[str, Any], known: dict[int, Part]) -> list[str]:
    part = known.get(int(figures["part"]))
    median, expected = figures.get("median_cycles"), figures.get("expected_by_others")
    if median is None or not figures["failures"]:
        life = [UNKNOWN, UNKNOWN, _("no failure yet")]
    else:
        evidence = _("data") if figures["evidence"] == "data" else _("mostly prior")
        spread = between(float(figures["median_lower"]), float(figures["median_upper"]))
        life = [number(float(median)), spread, evidence]
    return [
        str(part) if part else _("of another component now"),
        (part.revision if part else "") or UNKNOWN,
        number(int(figures["lives"])),
        number(int(figures["failures"])),
        UNKNOWN if expected is None else number(float(expected), 1),
        *life,
    ]
