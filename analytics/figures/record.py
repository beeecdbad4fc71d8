"""The fleet's record, computed once for a figure, in memory."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from analytics.assessment.exposure import Exposure, assess_exposure
from analytics.assessment.groups import Group, Windows, grouped, windows_since
from analytics.assessment.learned import usage_of_fleet
from analytics.assessment.lives import LifeRows, assess_lives
from analytics.assessment.usage import UsageFound
from analytics.datasets import fetch_fleet
from analytics.datasets.columns import Flags
from analytics.datasets.fleet import Fleet
from analytics.figures.options import Question


@dataclass(frozen=True)
class Record:
    """What figures are made of; each step is taken when it is first asked for."""

    question: Question

    @cached_property
    def fleet(self) -> Fleet:
        """The record as it was known."""
        return fetch_fleet(self.question.as_of)

    @cached_property
    def usage(self) -> UsageFound:
        """Readings judged and usage known, with the whole fleet's parameters."""
        return usage_of_fleet(self.fleet)

    @cached_property
    def exposure(self) -> Exposure:
        """Windows of the doors."""
        return assess_exposure(self.fleet, self.usage.series)

    @cached_property
    def lives(self) -> LifeRows:
        """Lives of fitted parts."""
        return assess_lives(self.fleet, self.usage.series, self.exposure)

    @cached_property
    def windows(self) -> Windows:
        """Windows and failures, from the day asked for."""
        return windows_since(self.fleet, self.usage, self.exposure, self.question.since)

    @property
    def component_id(self) -> int | None:
        """The component asked for."""
        components = self.fleet.components
        if self.question.component is None:
            return None
        return int(components.ids[components.codes.index(self.question.component)])

    def groups(self) -> list[Group]:
        """The groups asked for."""
        return grouped(self.fleet, self.windows, self.question.by, self.component_id)

    def doors_asked_for(self) -> Flags:
        """Which doors are of the depot and serial asked for, (n,)."""
        doors, question = self.fleet.doors, self.question
        wanted = np.ones(len(doors), bool)
        if question.depot is not None:
            wanted &= doors.depot == doors.depots.codes.index(question.depot)
        if question.door is not None:
            wanted &= np.array([serial == question.door for serial in doors.serials], dtype=bool)
        return wanted
