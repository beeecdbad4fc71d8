"""Nodes of the door itself: sensors, ajar lamp, balance, drag, linkage, settings."""

from __future__ import annotations

from inspections.tracing.elements import (
    Field,
    Node,
    Outcome,
    Route,
    _,
    fails,
    look,
    near,
    passes,
    says_nothing,
    stops,
)
from inspections.tracing.predicates import both, is_word, value

SENSORS = (
    Node(
        code="N40",
        question=_("Is the closed sensor's LED on when closed, and off once raised 25 to 50 mm?"),
        how=_("Move the door by hand if it will not run."),
        routes=(
            passes(is_word("N40.led", "right"), "N41"),
            # Not one LED: the board has no power, and the sensors cannot be judged.
            says_nothing(
                both(is_word("N40.led", "board_dark"), ("not", ("known", value("N12.outcome")))),
                "N12",
            ),
            fails(True, "N42"),
        ),
        if_unknown="N42",
        minutes=2,
        groups=("sensors",),
        fields=(
            Field(
                "led",
                _("Closed-sensor LED"),
                kind="choice",
                options=(
                    ("right", _("as it should be")),
                    ("wrong", _("wrong")),
                    ("board_dark", _("no LED on the board is lit")),
                ),
            ),
        ),
        cautions=("C2",),
        is_powered=True,
    ),
    Node(
        code="N41",
        question=_("Is the open sensor's LED on at full open, and off 25 to 50 mm lower?"),
        how=_("Move the door by hand if it will not run."),
        routes=look("N41", yes="N43", no="N42"),
        if_unknown="N42",
        minutes=2,
        groups=("sensors",),
        cautions=("C2",),
        is_powered=True,
    ),
    Node(
        code="N42",
        question=_("Does that LED change when the target is brought to the sensor by hand?"),
        how=_("Isolate the drive first; the board keeps its power, the motor does not."),
        routes=look("N42", yes="V40", no="N44"),
        if_unknown="N44",
        minutes=3,
        groups=("sensors",),
        cautions=("C3",),
        is_powered=True,
    ),
    Node(
        code="N43",
        question=_("Does it now run both ways without coming back, and stop at its ends?"),
        how=_("Nothing in the way; one run each way."),
        routes=look("N43", yes="N60", no="N50"),
        if_unknown="N50",
        minutes=2,
        groups=("function",),
        cautions=("C2",),
        is_powered=True,
    ),
    Node(
        code="N44",
        question=_("Does that LED change with the sensor unplugged at the board?"),
        how=_(
            "A dry-contact input may be bridged instead; a powered sensor never. Take the bridge "
            "out again before you answer."
        ),
        routes=look("N44", yes="V41", no="V42"),
        if_unknown="V42",
        minutes=3,
        groups=("sensors",),
        cautions=("C3", "C4"),
        is_powered=True,
    ),
    Node(
        code="N45",
        question=_("Is the ajar lamp on with the door 50 mm open, and off when it is closed?"),
        how=_("Look at the lamp in the cab, or have somebody call out."),
        routes=look("N45", yes="N61", no="N46"),
        if_unknown="N46",
        minutes=1,
        groups=("lamp", "sensors"),
        cautions=("C2",),
        is_powered=True,
    ),
    Node(
        code="N46",
        question=_("Is the closed sensor's LED right at the same time?"),
        how=_("On when closed, off with the door 50 mm open."),
        routes=look("N46", yes="V45", no="N42"),
        if_unknown="N42",
        minutes=1,
        groups=("lamp", "sensors"),
        is_powered=True,
    ),
)

MECHANICS = (
    Node(
        code="N50",
        question=_("Drive released: how far does the door drift in 10 s at 1/4, 1/2 and 3/4?"),
        how=_(
            "Isolate. Release the drive only with the door closed, or propped at height by two "
            "people. Hold the door at each height, let go gently, wait 10 s, note the drift."
        ),
        routes=(
            stops(is_word("N50.moves", "crooked"), "V34"),
            stops(both((">", value("N50.worst_mm"), 150.0), is_word("N50.moves", "rises")), "V33"),
            stops((">", value("N50.worst_mm"), 150.0), "V32"),
            near(
                (">", value("N50.worst_mm"), 50.0),
                "N51",
                _("Balance near its limit: note it and go on."),
            ),
            passes(True, "N51"),
        ),
        if_unknown="V32",
        unknown_is_stop=True,
        minutes=5,
        groups=("mechanics",),
        fields=(
            Field(
                "moves",
                _("It"),
                kind="choice",
                options=(
                    ("holds", _("holds")),
                    ("sinks", _("sinks")),
                    ("rises", _("rises")),
                    ("crooked", _("hangs crooked")),
                ),
            ),
            Field("quarter_mm", _("At 1/4"), unit="mm", quantity="millimetres", high=150.0),
            Field("half_mm", _("At 1/2"), unit="mm", quantity="millimetres", high=150.0),
            Field("three_quarters_mm", _("At 3/4"), unit="mm", quantity="millimetres", high=150.0),
        ),
        cautions=("C1", "C2", "C7"),
    ),
    Node(
        code="N51",
        question=_("What pull moves the door, by hand scale over the whole travel?"),
        how=_("Drive released. Pull slowly; note the largest force, and largest less smallest."),
        routes=(
            passes(
                both(
                    ("<=", value("N51.peak_newtons"), 100.0),
                    ("<=", value("N51.spread_newtons"), 50.0),
                ),
                "N53",
            ),
            fails(True, "V31"),
        ),
        if_unknown="V31",
        minutes=4,
        groups=("mechanics",),
        fields=(
            Field("peak_newtons", _("Largest"), unit="N", quantity="newtons", high=100.0),
            Field(
                "spread_newtons",
                _("Largest less smallest"),
                unit="N",
                quantity="newtons",
                high=50.0,
            ),
        ),
        cautions=("C2", "C7"),
    ),
    Node(
        code="N53",
        question=_("Linkage: lock-nuts tight, play within 3 mm, release fully latched?"),
        how=_("Isolate. Turnbuckle, drive arm and release by hand."),
        routes=look("N53", yes="N54", no="V36"),
        if_unknown="V36",
        minutes=3,
        groups=("mechanics",),
        cautions=("C3", "C7"),
    ),
    Node(
        code="N54",
        question=_("Have the board's output and the cable passed in this visit?"),
        how=_("Answered from what is known."),
        routes=(
            # Current too high, the door moves freely: the motor.
            fails(("==", value("N26.outcome"), ("text", "fail")), "V25"),
            passes(both(value("N17.passed"), value("N18.passed")), "N55"),
            says_nothing(True, "N17"),
        ),
        if_unknown="N17",
        minutes=0,
        groups=("function",),
        is_automatic=True,
    ),
    Node(
        code="N55",
        question=_("Do force and limits match the maker's sheet, and is the block test right?"),
        how=_("Compare every setting with the sheet; then let it close on a 25 mm block."),
        routes=(
            Route(both(value("N55.yes"), ("not", value("N14.holder_clean"))), "V11", Outcome.PASS),
            Route(both(value("N55.yes"), ("not", value("N14.conducts"))), "V19", Outcome.PASS),
            # Something was repaired on the way here: what is left is to see that it works.
            passes(both(value("N55.yes"), (">", value("repairs"), 0)), "N60"),
            passes(value("N55.yes"), "V39"),
            fails(True, "V43"),
        ),
        if_unknown="V43",
        minutes=4,
        groups=("mechanics",),
        cautions=("C9", "C10"),
        is_powered=True,
    ),
)
NODES = (*SENSORS, *MECHANICS)
