"""The figures that scripts may ask for, one module each."""

from types import ModuleType

from analytics.figures import (
    demand,
    due,
    interval,
    life,
    mcbf,
    mcf,
    schedule,
    survival,
    suspects,
    trend,
    usage,
)

FIGURES: dict[str, ModuleType] = {
    "mcbf": mcbf,
    "mcf": mcf,
    "trend": trend,
    "survival": survival,
    "life": life,
    "interval": interval,
    "usage": usage,
    "due": due,
    "suspects": suspects,
    "demand": demand,
    "schedule": schedule,
}
