"""Derived rows: everything here can be rebuilt from the record at any time."""

from analytics.models.check_evidence import CheckEvidence
from analytics.models.component_life import ComponentLife, Evidence
from analytics.models.computation import Computation
from analytics.models.computation_slice import ComputationSlice
from analytics.models.door_failure import DoorFailure
from analytics.models.door_figures import DoorFigures, UsageBasis
from analytics.models.due_task import PRESSING, DueState, DueTask, GovernedBy
from analytics.models.forecast_check import ForecastCheck, ForecastKind, ForecastScore
from analytics.models.life_evidence import LifeEvidence
from analytics.models.part_outlook import DemandMethod, PartOutlook
from analytics.models.period_use import PeriodUse
from analytics.models.reliability_sums import ReliabilitySums
from analytics.models.schedule import PlanRun, Proposal, ProposedJob, ProposedVisit
from analytics.models.score import Measure, ScoreMonth
from analytics.models.suspect_reading import Cause, Settlement, SuspectReading

__all__ = [
    "PRESSING",
    "Cause",
    "CheckEvidence",
    "ComponentLife",
    "Computation",
    "ComputationSlice",
    "DemandMethod",
    "DoorFailure",
    "DoorFigures",
    "DueState",
    "DueTask",
    "Evidence",
    "ForecastCheck",
    "ForecastKind",
    "ForecastScore",
    "GovernedBy",
    "LifeEvidence",
    "Measure",
    "PartOutlook",
    "PeriodUse",
    "PlanRun",
    "Proposal",
    "ProposedJob",
    "ProposedVisit",
    "ReliabilitySums",
    "ScoreMonth",
    "Settlement",
    "SuspectReading",
    "UsageBasis",
]
