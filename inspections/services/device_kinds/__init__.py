"""Which reader takes which kind of entry, in which version of its content.

A phone keeps entries of the program it was loaded with. So a version once given out keeps its
reader: a change of content gets a new number beside the old one, never in its place.
"""

from __future__ import annotations

from collections.abc import Callable

from inspections.services.device_kinds.arriving import Arrived, Became
from inspections.services.device_kinds.at_a_door import (
    take_fault,
    take_hold,
    take_inspection,
    take_reading,
)
from inspections.services.device_kinds.closing import take_visit_closed
from inspections.services.device_kinds.on_a_visit import (
    take_final_check,
    take_handover,
    take_tick,
    take_tick_back,
    take_visit_opened,
)
from inspections.services.device_kinds.photo import take_photo
from inspections.services.device_kinds.planning import (
    take_jobs,
    take_visit_absent,
    take_visit_planned,
)
from inspections.services.device_kinds.trace import take_answer_taken_back, take_trace_answer

# What a phone that loads the program now sends.
VERSION = 1
READERS: dict[tuple[str, int], Callable[[Arrived], Became]] = {
    ("reading", 1): take_reading,
    ("fault", 1): take_fault,
    ("inspection", 1): take_inspection,
    ("hold", 1): take_hold,
    ("visit_plan", 1): take_visit_planned,
    ("visit_open", 1): take_visit_opened,
    ("visit_jobs", 1): take_jobs,
    ("visit_absent", 1): take_visit_absent,
    ("hand_over", 1): take_handover,
    ("visit_close", 1): take_visit_closed,
    ("tick", 1): take_tick,
    ("tick_back", 1): take_tick_back,
    ("final_check", 1): take_final_check,
    ("trace_answer", 1): take_trace_answer,
    ("trace_take_back", 1): take_answer_taken_back,
    ("photo", 1): take_photo,
}
