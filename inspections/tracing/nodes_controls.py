"""Nodes at the start and the end of a trace: the first look, the controls, the final check."""

from __future__ import annotations

from inspections.tracing.elements import (
    Field,
    Node,
    Outcome,
    Route,
    _,
    fails,
    look,
    passes,
    stops,
)
from inspections.tracing.predicates import either, is_word, value

_COUNTED = ("-", value("N61.counter_after"), value("N61.counter_before"))
_EXPECTED = ("*", 3, value("counts_per_cycle"))

FIRST_LOOK = Node(
    code="N00",
    question=_("Are spring and lift cables whole, the door level, and nothing under it?"),
    how=_(
        "Set the brake and chock the wheels first. Then look from the ground: every spring in one "
        "piece, both lift cables whole and on their drums, the door level, the opening empty."
    ),
    routes=(passes(value("N00.yes"), "N01"), stops(True, "V90")),
    if_unknown="V90",
    unknown_is_stop=True,
    minutes=3,
    groups=(),
    cautions=("C6", "C8"),
)

CONTROLS = (
    Node(
        code="N01",
        question=_("Does any control make the door click, light an LED or move?"),
        how=_("Try the remote, the wall switch and the cab switch, one after the other."),
        routes=look("N01", yes="N02", no="N10"),
        if_unknown="N10",
        minutes=1,
        groups=("function",),
        cautions=("C2",),
        is_powered=True,
    ),
    Node(
        code="N02",
        question=_("Do all controls act alike?"),
        how=_("The same answer of the door to every control, good or bad."),
        routes=look("N02", yes="N30", no="N03"),
        if_unknown="N03",
        minutes=1,
        groups=("remote", "function"),
        cautions=("C2",),
        is_powered=True,
    ),
    Node(
        code="N03",
        question=_("Is the remote the only control that fails?"),
        how=_("No if a wall or cab switch fails too, or alone."),
        routes=look("N03", yes="N04", no="N06"),
        if_unknown="N06",
        minutes=1,
        groups=("remote",),
    ),
    Node(
        code="N04",
        question=_("What does the remote's battery read while its button is held?"),
        how=_("Open the remote, hold the button down and read across the cell."),
        routes=(
            passes((">=", value("N04.cell_volts"), value("N04.least_volts")), "N05"),
            fails(True, "V01"),
        ),
        if_unknown="V01",
        minutes=1,
        groups=("remote",),
        fields=(
            Field(
                "cell_volts",
                _("Cell, button held"),
                unit="V",
                quantity="remote_volts",
                low=value("N04.least_volts"),
            ),
            Field(
                "nominal_volts",
                _("Marked on the cell"),
                unit="V",
                quantity="remote_volts",
                required=False,
            ),
        ),
    ),
    Node(
        code="N05",
        question=_("Does a spare remote that is paired with this door work?"),
        how=_("Use one that is known to work on this very door."),
        routes=look("N05", yes="V02", no="V03"),
        if_unknown="V03",
        minutes=2,
        groups=("remote",),
        cautions=("C2",),
        is_powered=True,
    ),
    Node(
        code="N06",
        question=_("Does the door answer when the dead switch's input is bridged at the board?"),
        how=_("Touch the two terminals of that input together, for a moment only."),
        routes=look("N06", yes="V04", no="V05"),
        if_unknown="V05",
        minutes=4,
        groups=("remote",),
        cautions=("C4", "C2"),
        is_powered=True,
    ),
    Node(
        code="N27",
        question=_("With the control power off, do all switches and their wires read open?"),
        how=_(
            "Take the control power off and tag it. Nobody touches a switch: every wall and cab "
            "switch, measured at the board's plug, reads open."
        ),
        # Open switches leave the output stage: nothing is powered until the repair is signed.
        routes=(
            Route(value("N27.yes"), "V20", Outcome.PASS, is_stop=True),
            fails(True, "V04"),
        ),
        if_unknown="V20",
        unknown_is_stop=True,
        minutes=3,
        groups=("remote", "board"),
        cautions=("C3",),
    ),
)

FINAL = (
    Node(
        code="N30",
        question=_("Does it travel the whole way under power, both ways, and stop at both ends?"),
        how=_("One full opening and closing, from a control in sight of the door."),
        routes=look("N30", yes="N60", no="N31"),
        if_unknown="N31",
        minutes=2,
        groups=("function",),
        cautions=("C2",),
        is_powered=True,
    ),
    Node(
        code="N31",
        question=_("What is wrong with it now?"),
        how=_("Choose what stands out most."),
        routes=(
            fails(is_word("N31.what", "no_motion"), "N10"),
            fails(is_word("N31.what", "slow"), "N32"),
            fails(is_word("N31.what", "reverses"), "N40"),
            fails(is_word("N31.what", "heavy"), "N50"),
            fails(is_word("N31.what", "at_random"), "N70"),
            fails(is_word("N31.what", "no_reverse"), "N50"),
            fails(is_word("N31.what", "lamp"), "N45"),
            # The hand balance is the one start that needs no power.
            fails(True, "N50"),
        ),
        if_unknown="N50",
        minutes=1,
        groups=("function",),
        fields=(
            Field(
                "what",
                _("What is wrong"),
                kind="choice",
                options=(
                    ("no_motion", _("it does not move")),
                    ("slow", _("slow, or stops part-way")),
                    ("reverses", _("comes back, or runs past its end")),
                    ("heavy", _("heavy or crooked")),
                    ("at_random", _("now and then, without a pattern")),
                    ("no_reverse", _("does not reverse on the block")),
                    ("lamp", _("ajar lamp is wrong")),
                ),
            ),
        ),
    ),
    Node(
        code="N60",
        question=_("Final check: is everything as it should be?"),
        how=_(
            "Three full cycles; it reverses on a 25 mm block; the ajar lamp follows the door; the "
            "manual release frees and latches; the seal closes all along. Note volts and seconds."
        ),
        routes=look("N60", yes="N61", no="N31"),
        if_unknown="N31",
        minutes=6,
        groups=("function",),
        fields=(
            Field("open_seconds", _("Opening"), unit="s", quantity="seconds", required=False),
            Field("close_seconds", _("Closing"), unit="s", quantity="seconds", required=False),
            Field(
                "running_volts",
                _("Converter while running"),
                unit="V",
                quantity="converter_volts",
                required=False,
                low=value("bus_least"),
                high=value("drive_volts_high"),
            ),
        ),
        cautions=("C2", "C9"),
        is_powered=True,
    ),
    Node(
        code="N61",
        question=_("What does the counter show before and after three cycles?"),
        how=_("Read all digits before, run three full cycles, read again."),
        routes=(
            passes(
                either(
                    ("==", _COUNTED, _EXPECTED),
                    # The counter ran over its last digit in between.
                    ("==", ("+", _COUNTED, value("counter_span")), _EXPECTED),
                ),
                "V00",
            ),
            fails(True, "V50"),
        ),
        if_unknown="V50",
        minutes=1,
        groups=("counter", "function"),
        fields=(
            Field("counter_before", _("Before"), quantity="counts"),
            Field("counter_after", _("After three cycles"), quantity="counts"),
        ),
        cautions=("C2",),
        is_powered=True,
    ),
)
NODES = (FIRST_LOOK, *CONTROLS, *FINAL)
