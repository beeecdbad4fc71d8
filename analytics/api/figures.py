"""The figures of the command line, for systems that cannot run a command."""

from __future__ import annotations

from typing import Annotated, Any

from django.utils import timezone
from ninja import Field, Query, Router, Schema
from ninja.errors import HttpError

from analytics.api.paging import CODE_SIGNS
from analytics.figures import FIGURES
from analytics.figures.options import FLAGS, WrongUsageError, name, read_question
from analytics.figures.record import Record
from fleetdoors.api.access import (
    NOT_ALLOWED,
    NOT_FOUND,
    MachineRequest,
    Reader,
    depots_asked_for,
)
from fleetdoors.api.call_limit import CallsAMinute

UNPROCESSABLE = 422
# Computed anew from the record at each call, as the command does: dear on a large fleet.
CALLS_A_MINUTE = 10

router = Router(tags=["Figures"], auth=Reader())

Option = Annotated[str, Field(max_length=80, pattern=CODE_SIGNS)] | None


class FigureOptions(Schema):
    """The options of the command; which of them a figure takes is in its help."""

    as_of: Option = None
    by: Option = None
    component: Option = None
    confidence: Option = None
    since: Option = None
    depot: Option = None
    door: Option = None
    task: Option = None
    part: Option = None
    within: Option = None
    horizon: Option = None
    days: Option = None
    cost_preventive: Option = None
    cost_failure: Option = None


class FigureRows(Schema):
    """The rows of a figure, with the keys that the command prints."""

    figure: str
    rows: list[dict[str, Any]]


@router.get(
    "/{figure}",
    response=FigureRows,
    throttle=CallsAMinute(CALLS_A_MINUTE, of="figures"),
    url_name="figures",
    summary="A figure, computed now",
)
def one_figure(
    request: MachineRequest, figure: str, options: Annotated[FigureOptions, Query()]
) -> FigureRows:
    """The same rows as the command `figures`; a token of some depots asks for one of them."""
    module = FIGURES.get(figure)
    if module is None:
        raise HttpError(NOT_FOUND, f"A figure is one of {', '.join(FIGURES)}.")
    _stay_in_sight(request, module.TAKES, options)
    given: dict[str, str | None] = {
        name(flag): str(settings["default"]) if "default" in settings else None
        for flag, settings in FLAGS.items()
    }
    given |= options.model_dump(exclude_none=True)
    try:
        question = read_question(given, module.TAKES, timezone.now())
    except WrongUsageError as error:
        raise HttpError(UNPROCESSABLE, str(error)) from error
    rows = module.rows(Record(question))
    return FigureRows(figure=figure, rows=[{key: row[key] for key in module.KEYS} for row in rows])


def _stay_in_sight(request: MachineRequest, takes: tuple[str, ...], options: FigureOptions) -> None:
    """Refuse what would show another depot's figures to a token of some depots."""
    if request.auth.sees_all():
        return
    if "depot" not in takes:
        raise HttpError(NOT_ALLOWED, "This figure is of the whole fleet; the token sees a part.")
    if options.depot is None:
        raise HttpError(UNPROCESSABLE, "This token sees some depots: name one with depot=CODE.")
    depots_asked_for(request.auth, options.depot)
