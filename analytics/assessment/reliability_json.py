"""Figures of reliability as plain JSON, and back."""

from __future__ import annotations

from dataclasses import fields, is_dataclass
from functools import cache
from math import isfinite
from types import UnionType
from typing import Any, get_args, get_origin, get_type_hints

import numpy as np

from analytics.assessment.reliability import ReliabilityFigures


def to_json(value: Any) -> Any:
    """Dataclasses as objects, arrays as lists; what is not finite becomes null."""
    if isinstance(value, float):
        return value if isfinite(value) else None
    if value is None or isinstance(value, (str, int)):
        return value
    if isinstance(value, (list, tuple)):
        return [to_json(each) for each in value]
    if isinstance(value, dict):
        return {key: to_json(each) for key, each in value.items()}
    if isinstance(value, np.ndarray):
        plain = value.tolist()
        return plain if np.isfinite(value).all() else to_json(plain)
    kind: type = type(value)
    return {name: to_json(getattr(value, name)) for name in _names(kind)}


@cache
def _names(kind: type) -> tuple[str, ...]:
    return tuple(each.name for each in fields(kind))


def figures_from_json(kept: dict[str, Any]) -> ReliabilityFigures:
    """The figures that `to_json` was given."""
    found: ReliabilityFigures = _read(ReliabilityFigures, kept)
    return found


def _read(kind: Any, value: Any) -> Any:
    """A value as its annotation says."""
    origin, inner = get_origin(kind), get_args(kind)
    if isinstance(kind, type) and is_dataclass(kind):
        return kind(**{name: _read(each, value[name]) for name, each in _hints(kind).items()})
    if origin is np.ndarray:
        # Whole numbers stay whole; null stands for nan.
        return np.array([np.nan if each is None else each for each in value])
    if origin is UnionType:
        known = [each for each in inner if each is not type(None)]
        return None if value is None else _read(known[0], value)
    if origin is tuple:
        kinds = inner[:1] * len(value) if inner[-1] is Ellipsis else inner
        return tuple(_read(each, item) for each, item in zip(kinds, value, strict=True))
    if origin is dict:
        return {key: _read(inner[1], each) for key, each in value.items()}
    return value


@cache
def _hints(kind: type) -> dict[str, Any]:
    return get_type_hints(kind)
