"""What a trace knows before its first question: the truck's supply and the door type's limits."""

from __future__ import annotations

from dataclasses import dataclass

from inspections.electrical import cable_ohms, supply_factor
from inspections.tracing.predicates import Value


@dataclass(frozen=True)
class Context:
    """Volts, amps, metres, degrees Celsius; None is unknown."""

    supply_volts: float = 12.0
    engine_running: bool = False
    drive_volts: float = 32.0
    drive_volts_low: float = 31.0
    drive_volts_high: float = 33.0
    cable_awg: int | None = None
    cable_metres: float | None = None
    celsius: float | None = None
    fuse_amps: float | None = None
    fuse_volts: float | None = None
    motor_baseline_amps: float | None = None
    motor_limit_amps: float | None = None
    counts_per_cycle: int = 1
    counter_digits: int = 6
    remote_volts: float = 3.0

    @property
    def cable_ohms_at_20(self) -> float | None:
        """Resistance of the door's cable out and back, unknown without gauge and length."""
        if self.cable_awg is None or self.cable_metres is None:
            return None
        return cable_ohms(self.cable_awg, self.cable_metres)

    @property
    def fuse_is_rated_for_drive(self) -> bool | None:
        """Whether the voltage marked on the fuse reaches the drive's highest."""
        return None if self.fuse_volts is None else self.fuse_volts >= self.drive_volts_high

    def values(self) -> dict[str, Value]:
        """The names an expression may ask for; a phone's engine takes the same."""
        return {
            "supply_volts": self.supply_volts,
            "supply_factor": supply_factor(self.supply_volts),
            "engine_running": self.engine_running,
            "drive_volts": self.drive_volts,
            "drive_volts_low": self.drive_volts_low,
            "drive_volts_high": self.drive_volts_high,
            "cable_ohms_at_20": self.cable_ohms_at_20,
            "celsius": self.celsius,
            "fuse_amps": self.fuse_amps,
            "fuse_volts": self.fuse_volts,
            "motor_baseline_amps": self.motor_baseline_amps,
            "motor_limit_amps": self.motor_limit_amps,
            "counts_per_cycle": self.counts_per_cycle,
            "counter_span": 10**self.counter_digits,
            "remote_volts": self.remote_volts,
        }


CONTEXT_NAMES = frozenset(Context().values())
