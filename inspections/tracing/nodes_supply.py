"""Nodes of the supply: battery, feed, ground, and faults that come and go."""

from __future__ import annotations

from inspections.tracing.elements import Field, Node, _, fails, near, passes
from inspections.tracing.predicates import Expression, both, either, per_supply, value


def _lost_before_input(node: str) -> Expression:
    """Whether the converter's input lies more than 1.0 V of a 12 V truck below the battery."""
    lost: Expression = ("-", value(f"{node}.battery_volts"), value(f"{node}.input_volts"))
    return (">", lost, per_supply(1.0))


def _input_low(node: str) -> Expression:
    return ("<", value(f"{node}.input_volts"), per_supply(11.5))


def _both_posts(node: str) -> tuple[Field, ...]:
    return (
        Field(
            "input_volts",
            _("Converter input"),
            unit="V",
            quantity="battery_volts",
            low=("max", per_supply(11.5), ("-", value(f"{node}.battery_volts"), per_supply(1.0))),
        ),
        Field(
            "battery_volts",
            _("Battery posts, same run"),
            unit="V",
            quantity="battery_volts",
            low=per_supply(11.5),
        ),
    )


SUPPLY = (
    Node(
        code="N10",
        question=_("What does the battery read at rest?"),
        how=_("Engine off, the door not commanded, across the battery posts."),
        routes=(
            # A charging battery hides what it holds: such a reading can fail, but not prove it.
            near(
                both(value("engine_running"), (">=", value("N10.battery_volts"), per_supply(12.2))),
                "N11",
                _("Read with the engine running: it says nothing about the charge."),
            ),
            passes((">=", value("N10.battery_volts"), per_supply(12.4)), "N11"),
            near(
                (">=", value("N10.battery_volts"), per_supply(12.2)),
                "N11",
                _("Low for a rested battery: note it and go on."),
            ),
            fails(True, "V10"),
        ),
        if_unknown="V10",
        minutes=2,
        groups=("supply",),
        fields=(
            Field(
                "battery_volts",
                _("Battery at rest"),
                unit="V",
                quantity="battery_volts",
                low=per_supply(12.2),
            ),
        ),
        cautions=("C11",),
    ),
    Node(
        code="N11",
        question=_("What reaches the converter's input while the door is commanded?"),
        how=_("Hold a command; read the converter's input and the battery posts in the same run."),
        routes=(
            fails(_lost_before_input("N11"), "V11"),
            fails(_input_low("N11"), "V10"),
            passes(True, "N12"),
        ),
        # The battery has passed by now: what is left is the way to the converter.
        if_unknown="V11",
        minutes=3,
        groups=("supply",),
        fields=_both_posts("N11"),
        cautions=("C4",),
        is_powered=True,
    ),
    Node(
        code="N21",
        question=_("What reaches the converter's input under load?"),
        how=_("Hold a command; read the converter's input and the battery posts in the same run."),
        routes=(
            fails(_lost_before_input("N21"), "V11"),
            fails(_input_low("N21"), "V10"),
            # Its output is its input: it does not boost at all.
            fails(
                ("<=", ("abs", ("-", value("N19.output_volts"), value("N21.input_volts"))), 1.0),
                "V12",
            ),
            passes(True, "N22"),
        ),
        if_unknown="V11",
        minutes=2,
        groups=("supply", "converter"),
        fields=_both_posts("N21"),
        cautions=("C4",),
        is_powered=True,
    ),
    Node(
        code="N32",
        question=_("What does the battery read at rest, and while the door runs?"),
        how=_("Engine off. Across the battery posts, first at rest, then with the door running."),
        routes=(
            fails(("<", value("N32.rest_volts"), per_supply(12.2)), "V10"),
            fails(("<", value("N32.running_volts"), per_supply(11.5)), "V10"),
            near(
                ("<", value("N32.rest_volts"), per_supply(12.4)),
                "N50",
                _("Low for a rested battery: note it and go on."),
            ),
            passes(True, "N50"),
        ),
        if_unknown="V10",
        minutes=4,
        groups=("supply",),
        fields=(
            Field(
                "rest_volts",
                _("At rest"),
                unit="V",
                quantity="battery_volts",
                low=per_supply(12.2),
            ),
            Field(
                "running_volts",
                _("Door running"),
                unit="V",
                quantity="battery_volts",
                low=per_supply(11.5),
            ),
        ),
        cautions=("C11",),
        is_powered=True,
    ),
)

RANDOM = (
    Node(
        code="N70",
        question=_("How far do the volts at the motor end dip while cable and plugs are moved?"),
        how=_(
            "Door running. Flex the coil at the slider and at both strain reliefs, then move each "
            "plug. Note the deepest dip and where it came."
        ),
        routes=(
            fails(
                both(
                    (">=", value("N70.dip_volts"), 1.0),
                    ("==", value("N70.where"), ("text", "plug")),
                ),
                "V24",
            ),
            fails((">=", value("N70.dip_volts"), 1.0), "V23"),
            passes(True, "N71"),
        ),
        if_unknown="V23",
        minutes=6,
        groups=("cable",),
        fields=(
            Field("dip_volts", _("Deepest dip"), unit="V", quantity="drop_volts", high=1.0),
            Field(
                "where",
                _("Where"),
                kind="choice",
                required=False,
                options=(("coil", _("at the coil cable")), ("plug", _("at a plug"))),
            ),
        ),
        cautions=("C4", "C7"),
        is_powered=True,
    ),
    Node(
        code="N71",
        question=_("What is lost across the fuse holder and the ground lugs?"),
        how=_("Under load, the larger of the two. Feel for heat, look for brown or green."),
        routes=(
            fails(
                either((">", value("N71.drop_volts"), 0.2), ("not", value("N71.looks_good"))), "V11"
            ),
            passes(True, "N32"),
        ),
        if_unknown="V11",
        minutes=4,
        groups=("supply", "fuse"),
        fields=(
            Field("drop_volts", _("Larger drop"), unit="V", quantity="drop_volts", high=0.2),
            Field("looks_good", _("Cool, clean and tight"), kind="yes_no"),
        ),
        cautions=("C4",),
        is_powered=True,
    ),
)
NODES = (*SUPPLY, *RANDOM)
