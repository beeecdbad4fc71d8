"""Nodes from the converter to the board: output, fuse, wiring."""

from __future__ import annotations

from inspections.tracing.elements import (
    Field,
    Node,
    Outcome,
    Route,
    _,
    fails,
    near,
    passes,
    says_nothing,
)
from inspections.tracing.predicates import Expression, both, per_supply, value

_UNKNOWN_N11: Expression = ("not", ("known", value("N11.outcome")))
_UNKNOWN_N12: Expression = ("not", ("known", value("N12.outcome")))
_INPUT_LOW: Expression = ("<", value("N12.input_volts"), per_supply(11.5))


def _between(name: str, low: Expression, high: Expression) -> Expression:
    return both((">=", value(name), low), ("<=", value(name), high))


CONVERTER = (
    Node(
        code="N12",
        question=_("What does the converter give without load, and what goes in at that moment?"),
        how=_("No command. Read input and output one right after the other."),
        routes=(
            passes(
                _between("N12.output_volts", value("drive_volts_low"), value("drive_volts_high")),
                "N14",
            ),
            near(
                _between("N12.output_volts", value("board_least"), value("drive_most")),
                "N14",
                _("At the edge of its band: note it and go on."),
            ),
            # A weak battery looks like a bad converter: its input is measured under load first.
            says_nothing(both(_INPUT_LOW, _UNKNOWN_N11), "N10"),
            fails(("<=", value("N12.output_volts"), 2.0), "N13"),
            fails(
                ("<=", ("abs", ("-", value("N12.output_volts"), value("N12.input_volts"))), 1.0),
                "V12",
            ),
            fails(True, "V15"),
        ),
        if_unknown="V12",
        minutes=3,
        groups=("converter",),
        fields=(
            Field(
                "output_volts",
                _("Converter output"),
                unit="V",
                quantity="converter_volts",
                low=value("drive_volts_low"),
                high=value("drive_volts_high"),
            ),
            Field("input_volts", _("Converter input"), unit="V", quantity="battery_volts"),
        ),
        cautions=("C4",),
        is_powered=True,
    ),
    Node(
        code="N13",
        question=_("What does the converter give, unloaded and after its input was off a minute?"),
        how=_(
            "Unplug its load. Take its input off, wait one minute and put it back: some stay shut "
            "after a short until the input has been off. Read the output again."
        ),
        routes=(
            passes(_between("N13.output_volts", value("board_least"), value("drive_most")), "N16"),
            fails(True, "V14"),
        ),
        if_unknown="V14",
        minutes=4,
        groups=("converter",),
        fields=(
            Field(
                "output_volts",
                _("Converter output"),
                unit="V",
                quantity="converter_volts",
                low=value("drive_volts_low"),
                high=value("drive_volts_high"),
            ),
        ),
        cautions=("C3", "C4"),
        is_powered=True,
    ),
    Node(
        code="N19",
        question=_("What does the converter give while the door is commanded?"),
        how=_("Read at the converter itself, with a command held."),
        routes=(
            Route(
                both(
                    (">=", value("N19.output_volts"), value("bus_least")),
                    ("<", value("N17.bus_volts"), value("bus_least")),
                    (">", ("-", value("N19.output_volts"), value("N17.bus_volts")), 1.0),
                ),
                "V17",
                Outcome.PASS,
            ),
            passes((">=", value("N19.output_volts"), value("board_least")), "N20"),
            near(
                (">=", value("N19.output_volts"), value("bus_least")),
                "N20",
                _("Sags under load: note it and go on."),
            ),
            fails(True, "N21"),
        ),
        if_unknown="N21",
        minutes=2,
        groups=("converter",),
        fields=(
            Field(
                "output_volts",
                _("Converter output, loaded"),
                unit="V",
                quantity="converter_volts",
                low=value("bus_least"),
                high=value("drive_volts_high"),
            ),
        ),
        cautions=("C4",),
        is_powered=True,
    ),
)

FUSE = (
    Node(
        code="N14",
        question=_("Out of its holder: does the board's fuse conduct, and is the holder clean?"),
        how=_(
            "Isolate first. Less than 1 ohm through the fuse; the holder neither brown nor loose."
        ),
        routes=(
            passes(
                both(
                    value("N14.conducts"),
                    value("N14.holder_clean"),
                    ("first", ("<", value("N14.ohms"), 1.0), True),
                ),
                "N15",
            ),
            fails(True, "N16"),
        ),
        if_unknown="N16",
        minutes=2,
        groups=("fuse",),
        fields=(
            Field("conducts", _("Fuse conducts, under 1 ohm"), kind="yes_no"),
            Field("holder_clean", _("Holder clean and tight"), kind="yes_no"),
            Field(
                "ohms", _("Through the fuse"), unit="Ω", quantity="ohms", required=False, high=1.0
            ),
        ),
        cautions=("C3", "C5"),
    ),
    Node(
        code="N15",
        question=_("What reaches the board, and is its power LED lit?"),
        how=_("Fuse back in. Read at the board's input terminals, then look at the LED."),
        routes=(
            passes(
                both((">=", value("N15.board_volts"), value("board_least")), value("N15.led_lit")),
                "N17",
            ),
            fails((">=", value("N15.board_volts"), value("board_least")), "V16"),
            says_nothing(_UNKNOWN_N12, "N12"),
            fails(True, "V17"),
        ),
        if_unknown="V16",
        minutes=2,
        groups=("board", "cable"),
        fields=(
            Field(
                "board_volts",
                _("Board input"),
                unit="V",
                quantity="converter_volts",
                low=value("board_least"),
                high=value("drive_most"),
            ),
            Field("led_lit", _("Power LED lit"), kind="yes_no"),
        ),
        cautions=("C4",),
        is_powered=True,
    ),
    Node(
        code="N16",
        question=_("Is the coil cable insulated everywhere, also while it is moved?"),
        how=_(
            "Isolate; fuse out; coil unplugged at the board and at the motor; meter only. Every "
            "core to every other and to the frame, while somebody moves the coil. If all is good, "
            "fit ONE correct fuse and go on."
        ),
        routes=(
            # Sound fuse, sound coil, brown holder: the holder it is.
            Route(
                both(
                    value("N16.is_insulated"),
                    value("N14.conducts"),
                    ("not", value("N14.holder_clean")),
                ),
                "V11",
                Outcome.PASS,
            ),
            passes(value("N16.is_insulated"), "N50"),
            fails(True, "V18"),
        ),
        if_unknown="V18",
        minutes=6,
        groups=("cable", "fuse"),
        fields=(
            Field("insulated", _("More than 1 megohm everywhere"), kind="yes_no"),
            Field(
                "megohms",
                _("Lowest reading"),
                unit="MΩ",
                quantity="megohms",
                required=False,
                low=1.0,
            ),
        ),
        cautions=("C3", "C5"),
    ),
)

NODES = (*CONVERTER, *FUSE)
