"""Where a trace ends: what is wrong, which parts are proposed, and what follows the repair."""

from __future__ import annotations

from inspections.tracing.elements import PartProposal, Verdict, _
from inspections.tracing.predicates import Expression, either, is_word, value

_FUSE_BLEW: Expression = ("==", value("N14.conducts"), False)
_NOT_KNOWN_WHOLE: Expression = ("first", ("not", value("N14.conducts")), True)
# The sensor that N42 was asked about: the open one only if its own LED was wrong.
_OPEN_SENSOR: Expression = ("==", value("N41.yes"), False)
_CLOSED_SENSOR = either(
    is_word("N40.led", "wrong"),
    ("==", value("N46.yes"), False),
    ("not", ("known", value("N41.yes"))),
)


def _parts(*components: str) -> tuple[PartProposal, ...]:
    return tuple(PartProposal(component) for component in components)


_SENSOR_PARTS = (
    PartProposal("closed_sensor", _CLOSED_SENSOR),
    PartProposal("open_sensor", _OPEN_SENSOR),
)
_TRAINED = _("Only a person trained for spring work goes on. Tag the door out until then.")
_AFTER_REPAIR = _("Repair, then the final check.")

VERDICTS = (
    Verdict("V00", _("Works, counter right"), _("Close the job."), (), (), None),
    Verdict(
        "V01", _("Remote battery"), _AFTER_REPAIR, _parts("remote_battery"), ("remote",), "N60"
    ),
    Verdict(
        "V02",
        _("Remote lost its pairing or is defective"),
        _("Pair it again, else replace it."),
        _parts("remote"),
        ("remote",),
        "N60",
    ),
    Verdict("V03", _("Receiver or antenna"), _AFTER_REPAIR, _parts("receiver"), ("remote",), "N60"),
    Verdict(
        "V04",
        _("Wall or cab switch, or its wire"),
        _AFTER_REPAIR,
        _parts("switch"),
        ("remote",),
        "N60",
    ),
    Verdict("V05", _("Board input"), _AFTER_REPAIR, _parts("control_board"), ("remote",), "N60"),
    Verdict(
        "V10",
        _("Low supply: battery or charging, on the truck's side"),
        _("Charge and load-test the battery, or have it done; then measure again."),
        (),
        ("supply",),
        "N10",
        ("C11",),
    ),
    Verdict(
        "V11",
        _("Feed, ground, main fuse or a fuse holder"),
        _("Clean, crimp or renew; then measure again."),
        (*_parts("supply_feed", "fuse_holder"), PartProposal("fuse", _FUSE_BLEW)),
        ("supply", "fuse"),
        "N10",
        ("C5",),
    ),
    Verdict(
        "V12",
        _("Converter does not boost"),
        _AFTER_REPAIR,
        _parts("converter"),
        ("converter",),
        "N60",
        ("C3",),
    ),
    Verdict(
        "V14",
        _("Converter dead"),
        _AFTER_REPAIR,
        _parts("converter"),
        ("converter",),
        "N60",
        ("C3",),
    ),
    Verdict(
        "V15",
        _("Converter out of regulation"),
        _("Make sure its input holds under load before it is replaced."),
        _parts("converter"),
        ("converter",),
        "N60",
        ("C3",),
    ),
    Verdict(
        "V16",
        _("Board dark with good input"),
        _AFTER_REPAIR,
        _parts("control_board"),
        ("board",),
        "N60",
        ("C3",),
    ),
    Verdict(
        "V17",
        _("Wiring or plug between converter and board"),
        _("Mend it, then measure the converter again."),
        _parts("connector"),
        ("cable",),
        "N12",
        ("C3",),
    ),
    Verdict(
        "V18",
        _("Short or chafe in the coil cable or motor lead"),
        _("Replace and reroute; the blown fuse was the consequence."),
        (*_parts("coil_cable"), PartProposal("fuse", _NOT_KNOWN_WHOLE)),
        ("cable", "fuse"),
        "N60",
        ("C3", "C5"),
    ),
    Verdict(
        "V19",
        _("Fuse open, its cause not found"),
        _("One correct fuse is in. Keep all readings; look again if it repeats within 30 days."),
        _parts("fuse"),
        ("fuse",),
        "N60",
        ("C5",),
    ),
    Verdict(
        "V20",
        _("Board output stage"),
        _AFTER_REPAIR,
        _parts("control_board"),
        ("board",),
        "N60",
        ("C3",),
    ),
    Verdict(
        "V21",
        _("Converter weak under load"),
        _AFTER_REPAIR,
        _parts("converter"),
        ("converter",),
        "N60",
        ("C3",),
    ),
    Verdict(
        "V23",
        _("Coil cable: broken strand or high resistance"),
        _AFTER_REPAIR,
        _parts("coil_cable"),
        ("cable",),
        "N60",
        ("C3",),
    ),
    Verdict(
        "V24",
        _("Plug or connector"),
        _AFTER_REPAIR,
        _parts("connector"),
        ("cable",),
        "N60",
        ("C3",),
    ),
    Verdict(
        "V25", _("Motor or gear"), _AFTER_REPAIR, _parts("motor"), ("motor",), "N60", ("C3", "C7")
    ),
    Verdict(
        "V31",
        _("Drag: rollers, track, hinges, panel or seal"),
        _("Clean and lubricate; replace what is worn or bent."),
        _parts("roller", "track", "hinge", "bottom_seal", "panel"),
        ("mechanics",),
        "N60",
        ("C2", "C7", "C12"),
    ),
    Verdict(
        "V32",
        _("Spring weak or broken: balance low"),
        _TRAINED,
        _parts("spring", "lift_cable"),
        ("mechanics",),
        "N60",
        ("C1", "C8", "C9"),
    ),
    Verdict("V33", _("Spring over-wound"), _TRAINED, (), ("mechanics",), "N60", ("C1", "C8", "C9")),
    Verdict(
        "V34",
        _("Lift cable off, stretched or uneven"),
        _TRAINED,
        _parts("lift_cable"),
        ("mechanics",),
        "N60",
        ("C1", "C8", "C9"),
    ),
    Verdict(
        "V36",
        _("Linkage, turnbuckle or release"),
        _("Adjust, lock, free or replace."),
        _parts("turnbuckle", "manual_release"),
        ("mechanics",),
        "N60",
        ("C3", "C7", "C9"),
    ),
    Verdict(
        "V39",
        _("No fault found"),
        _("Keep all readings and look again if it repeats within 30 days."),
        (),
        (),
        None,
    ),
    Verdict(
        "V40",
        _("Sensor or its target out of place"),
        _("Realign to the maker's offset, about 25 mm (common practice, no source)."),
        (),
        ("sensors",),
        "N60",
        ("C3", "C9"),
    ),
    Verdict(
        "V41",
        _("Sensor or its wire"),
        _AFTER_REPAIR,
        _SENSOR_PARTS,
        ("sensors",),
        "N60",
        ("C3", "C9"),
    ),
    Verdict(
        "V42",
        _("Board's sensor input"),
        _AFTER_REPAIR,
        _parts("control_board"),
        ("sensors", "board"),
        "N60",
        ("C3", "C9"),
    ),
    Verdict(
        "V43",
        _("Force or limit setting off"),
        _("Set it to the maker's sheet, nothing else; repeat the block test."),
        (),
        ("mechanics",),
        "N60",
        ("C9", "C10"),
    ),
    Verdict(
        "V45",
        _("Ajar lamp, buzzer or wire"),
        _AFTER_REPAIR,
        _parts("ajar_lamp"),
        ("lamp",),
        "N60",
        ("C3",),
    ),
    Verdict(
        "V50",
        _("Counter, or its counts per cycle"),
        _("Record the exchange with both values, or correct the counts per cycle."),
        _parts("counter", "control_board"),
        ("counter",),
        "N61",
    ),
    Verdict(
        "V90",
        _("STOP: spring, lift cable or structure"),
        _(
            "Do not power the door, and tag it out. The truck may not leave with a door that is "
            "not secured. Plan the repair with a person trained for spring work."
        ),
        _parts("spring", "lift_cable", "panel"),
        ("mechanics",),
        "N00",
        ("C8", "C1", "C6"),
    ),
)
