"""Nodes from the board to the motor: output, coil cable, plugs, motor."""

from __future__ import annotations

from inspections.tracing.elements import (
    Field,
    Node,
    _,
    fails,
    look,
    near,
    passes,
    says_nothing,
    stops,
)
from inspections.tracing.predicates import Expression, both, either, value

_FUSE_BLEW: Expression = ("==", value("N14.conducts"), False)
_MECHANICS_PASSED = both(value("N50.passed"), value("N51.passed"))
_TOO_MUCH: Expression = (">", value("N26.amps"), value("N26.most_amps"))

NODES = (
    Node(
        code="N17",
        question=_("What does the board give the motor, both ways and after the stop?"),
        how=_(
            "At the board's motor terminals. Command one way, then the other; read the board's "
            "input in the same run, and the motor terminals again once it has stopped."
        ),
        routes=(
            # A motor that stays fed after the stop can run on over a person.
            stops((">=", ("abs", value("N17.stopped_volts")), 2.0), "V20"),
            passes(
                both(
                    (">=", value("N17.least_volts"), ("-", value("N17.bus_volts"), 1.0)),
                    (">=", value("N17.bus_volts"), value("bus_least")),
                    value("N17.flips"),
                ),
                "N18",
            ),
            # The new fuse went too: the motor is measured before anything else is suspected.
            fails(both(_FUSE_BLEW, ("not", ("known", value("N26.outcome")))), "N26"),
            fails(True, "N19"),
        ),
        if_unknown="N19",
        minutes=4,
        groups=("board",),
        fields=(
            Field(
                "bus_volts",
                _("Board input, same run"),
                unit="V",
                quantity="converter_volts",
                low=value("bus_least"),
            ),
            Field(
                "opening_volts",
                _("Motor terminals, opening"),
                unit="V",
                quantity="motor_volts",
                low=("-", value("N17.bus_volts"), 1.0),
            ),
            Field(
                "closing_volts",
                _("Motor terminals, closing"),
                unit="V",
                quantity="motor_volts",
                low=("-", value("N17.bus_volts"), 1.0),
            ),
            Field("flips", _("Polarity changes with the direction"), kind="yes_no"),
            Field(
                "stopped_volts",
                _("Motor terminals, after the stop"),
                unit="V",
                quantity="motor_volts",
                high=2.0,
            ),
        ),
        cautions=("C4", "C2"),
        is_powered=True,
    ),
    Node(
        code="N18",
        question=_("What arrives at the motor end while the door is commanded?"),
        how=_(
            "At the motor-end plug, under load: without current even a nearly broken strand reads "
            "full volts. Read the board's motor terminals in the same run, and the amps if you can."
        ),
        routes=(
            says_nothing(
                both(
                    ("<", value("N18.board_volts"), value("bus_least")),
                    ("not", ("known", value("N17.outcome"))),
                ),
                "N17",
            ),
            fails(("<", value("N18.board_volts"), value("bus_least")), "N19"),
            passes(("<=", value("N18.drop_volts"), value("drop_near_volts")), "N25"),
            near(
                ("<=", value("N18.drop_volts"), value("drop_past_volts")),
                "N25",
                _("The cable loses more than a sound one: note it and go on."),
            ),
            fails(True, "N24"),
        ),
        if_unknown="N24",
        minutes=4,
        groups=("cable",),
        fields=(
            Field(
                "board_volts",
                _("Board's motor terminals, same run"),
                unit="V",
                quantity="motor_volts",
                low=value("bus_least"),
            ),
            Field(
                "motor_volts",
                _("Motor end"),
                unit="V",
                quantity="motor_volts",
                low=("-", value("N18.board_volts"), value("drop_past_volts")),
            ),
            Field("amps", _("Current"), unit="A", quantity="amps", required=False),
            Field("celsius", _("Temperature"), unit="°C", quantity="celsius", required=False),
        ),
        cautions=("C4", "C7"),
        is_powered=True,
    ),
    Node(
        code="N20",
        question=_("Do the sensor LEDs agree with where the door really is?"),
        how=_("Compare the board's LEDs with the door, without moving it."),
        routes=look("N20", yes="V20", no="N40"),
        if_unknown="N40",
        minutes=2,
        groups=("board", "sensors"),
        is_powered=True,
    ),
    Node(
        code="N22",
        question=_("With the drive released, does the door move freely by hand?"),
        how=_("Release the drive with the door closed, then lift by hand through the travel."),
        routes=(
            passes(value("N22.yes"), "V21"),
            # Balance, drag and linkage were measured and are good: no overload is left.
            fails(both(_MECHANICS_PASSED, value("N53.passed")), "V21"),
            fails(True, "N50"),
        ),
        if_unknown="N50",
        minutes=3,
        groups=("mechanics",),
        cautions=("C2", "C7"),
    ),
    Node(
        code="N24",
        question=_("What is lost across the worst plug between board and motor?"),
        how=_("Under load, across each plug in turn; note the largest."),
        routes=(
            passes(("<=", value("N24.plug_volts"), 0.1), "V23"),
            near(("<=", value("N24.plug_volts"), 0.3), "V23", _("A plug loses a little as well.")),
            fails(True, "V24"),
        ),
        if_unknown="V24",
        minutes=5,
        groups=("cable",),
        fields=(Field("plug_volts", _("Worst plug"), unit="V", quantity="drop_volts", high=0.3),),
        cautions=("C4",),
        is_powered=True,
    ),
    Node(
        code="N25",
        question=_("Does the motor turn?"),
        how=_("Look and listen at the motor with a command held; keep clear of the drive."),
        routes=look("N25", yes="N53", no="N26"),
        if_unknown="N26",
        minutes=1,
        groups=("motor", "function"),
        cautions=("C7",),
        is_powered=True,
    ),
    Node(
        code="N26",
        question=_("What does the motor draw, and isolated: does it turn, is it insulated?"),
        how=_(
            "Read the current on command. Then isolate: turn the motor by hand, and measure its "
            "leads to the case."
        ),
        routes=(
            fails(either(("not", value("N26.turns")), ("not", value("N26.insulated"))), "V25"),
            fails(("<=", ("abs", value("N26.amps")), 0.05), "V25"),
            fails(both(_TOO_MUCH, _MECHANICS_PASSED), "V25"),
            # It turns freely: the door may be what holds it.
            fails(_TOO_MUCH, "N50"),
            near(
                (">", value("N26.amps"), ("*", 1.3, value("motor_baseline_amps"))),
                "N50",
                _("Draws more than when the door was new: note it and go on."),
            ),
            passes(True, "N50"),
        ),
        if_unknown="V25",
        minutes=6,
        groups=("motor",),
        fields=(
            Field("amps", _("On command"), unit="A", quantity="amps", high=value("N26.most_amps")),
            Field("turns", _("Turns by hand"), kind="yes_no"),
            Field("insulated", _("More than 1 megohm to the case"), kind="yes_no"),
        ),
        cautions=("C3", "C4"),
        is_powered=True,
    ),
)
