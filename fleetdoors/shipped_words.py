"""Names and cautions that every fleet starts with, in the words of whoever reads.

A row whose text is still the one that came with the program is shown in the reader's language;
what a fleet worded itself stays as it typed it. The record, its exports and the forms that change
it keep the stored words. The texts are those of the migration that brings them in; a test holds
both together.
"""

from __future__ import annotations

from django.utils.translation import gettext, gettext_noop

COMPONENTS = (
    gettext_noop("Remote control"),
    gettext_noop("Remote battery"),
    gettext_noop("Receiver"),
    gettext_noop("Wall or cab switch"),
    gettext_noop("Supply feed"),
    gettext_noop("Converter"),
    gettext_noop("Fuse"),
    gettext_noop("Fuse holder"),
    gettext_noop("Control board"),
    gettext_noop("Cycle counter"),
    gettext_noop("Coil cable"),
    gettext_noop("Cable slider"),
    gettext_noop("Connector"),
    gettext_noop("Drive motor"),
    gettext_noop("Open sensor"),
    gettext_noop("Closed sensor"),
    gettext_noop("Ajar lamp"),
    gettext_noop("Spring"),
    gettext_noop("Lift cable"),
    gettext_noop("Rollers"),
    gettext_noop("Hinge"),
    gettext_noop("Track"),
    gettext_noop("Panel or slat"),
    gettext_noop("Bottom seal"),
    gettext_noop("Turnbuckle"),
    gettext_noop("Manual release"),
    gettext_noop("Box gasket"),
)
TASKS = (
    gettext_noop("Walk-round by the driver"),
    gettext_noop("Counter reading"),
    gettext_noop("Cleaning of tracks, glance at cables"),
    gettext_noop("Obstruction, lamp and switch test"),
    gettext_noop("Lubrication"),
    gettext_noop("Close look at lift cables and springs"),
    gettext_noop("Coil cable re-coiling"),
    gettext_noop("Manual release check"),
    gettext_noop("Balance check"),
    gettext_noop("Sensor check"),
    gettext_noop("Fasteners and brackets"),
    gettext_noop("Seal, panels and drains"),
    gettext_noop("Electrical set of measurements"),
    gettext_noop("Remote battery"),
    gettext_noop("Full inspection"),
    gettext_noop("Spring and lift cable renewal"),
)
CAUTIONS = (
    gettext_noop(
        "A spring stays wound with the power off. Only a person trained and authorized for it "
        "works on springs, shaft, drums and bottom brackets."
    ),
    gettext_noop(
        "A door can come down. Keep the opening clear of people; clamp or prop the door "
        "before anyone works under or beside it."
    ),
    gettext_noop(
        "The door can start from any control. Take the battery feed off, lock or tag it, keep "
        "the key and the remote with you, and try every control before you reach in."
    ),
    gettext_noop(
        "Measuring live: 12 V and about 32 V could burn you and draw an arc. Insulated "
        "probes, fused leads, one hand, rings off."
    ),
    gettext_noop(
        "A new fuse must carry the same type, current and voltage marking. Before a second "
        "one goes in, find out why the first one blew."
    ),
    gettext_noop(
        "The truck could roll. Set the brake, chock the wheels and keep people away from its rear."
    ),
    gettext_noop(
        "Hinges, rollers, track bends, drums and the slider could pinch. No fingers between "
        "sections."
    ),
    gettext_noop(
        "With a broken spring or a damaged lift cable the door could fall. Do not run it; tag "
        "it out."
    ),
    gettext_noop(
        "After any change to force, limits, spring, cable or sensors: put guards back and "
        "repeat the obstruction test."
    ),
    gettext_noop(
        "The door maker's and the vehicle maker's instructions and local rules come first; "
        "the figures shown here are typical ones."
    ),
    gettext_noop("A battery gives off gas and holds acid. Eye protection, no flame, fresh air."),
    gettext_noop("Panels, shaft and door are heavy. Two people lift."),
)

_SHIPPED = frozenset((*COMPONENTS, *TASKS, *CAUTIONS))


def in_readers_words(stored: str) -> str:
    """A stored text as a page says it: translated while it is the one that came along."""
    return gettext(stored) if stored in _SHIPPED else stored
