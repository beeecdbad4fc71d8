"""From what a driver says to where to look first, and to the cautions that go with it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from fleetdoors.models import Caution, Component, ComponentKind, SignalWord
from inspections.codes import Complaint


@dataclass(frozen=True)
class ComplaintGroup:
    """Complaints that sound alike, few enough to choose from with a thumb."""

    heading: Promise
    complaints: tuple[Complaint, ...]


COMPLAINT_GROUPS = (
    ComplaintGroup(_("It does not move"), (Complaint.S1, Complaint.S2, Complaint.S3, Complaint.S6)),
    ComplaintGroup(
        _("It moves, but not as it should"),
        (Complaint.S4, Complaint.S5, Complaint.S7, Complaint.S13),
    ),
    ComplaintGroup(_("It is heavy, crooked or noisy"), (Complaint.S8, Complaint.S11)),
    ComplaintGroup(_("Something else"), (Complaint.S10, Complaint.S9, Complaint.S12)),
)

# Common practice, no source: where each complaint most often leads.
LIKELY_COMPONENTS: dict[str, tuple[str, ...]] = {
    Complaint.S1: ("supply_feed", "fuse", "fuse_holder", "converter", "coil_cable", "switch"),
    Complaint.S2: ("remote_battery", "remote", "receiver"),
    Complaint.S3: ("fuse", "coil_cable", "connector", "motor", "manual_release"),
    Complaint.S4: ("supply_feed", "converter", "spring", "track", "roller"),
    Complaint.S5: ("closed_sensor", "track", "bottom_seal", "control_board"),
    Complaint.S6: ("bottom_seal", "manual_release", "open_sensor", "closed_sensor", "supply_feed"),
    Complaint.S7: ("open_sensor", "closed_sensor", "turnbuckle", "control_board"),
    Complaint.S8: ("spring", "lift_cable"),
    Complaint.S9: ("closed_sensor", "ajar_lamp"),
    Complaint.S10: ("coil_cable", "connector", "fuse", "fuse_holder", "gasket"),
    Complaint.S11: ("roller", "track", "hinge", "slider"),
    Complaint.S12: ("counter",),
    Complaint.S13: ("switch", "control_board"),
}

_SPRING_WORK = ("C8", "C1", "C2")
_ELECTRIC_WORK = ("C3", "C4")
_BY_COMPLAINT: dict[str, tuple[str, ...]] = {
    Complaint.S8: _SPRING_WORK,
    Complaint.S13: ("C3", "C2"),
}
_BY_KIND: dict[str, tuple[str, ...]] = {
    ComponentKind.ELECTRONIC: _ELECTRIC_WORK,
    ComponentKind.ELECTRICAL: _ELECTRIC_WORK,
    ComponentKind.MECHANICAL: ("C2", "C7"),
    ComponentKind.FATIGUE: _SPRING_WORK,
}
_BY_COMPONENT: dict[str, tuple[str, ...]] = {
    "remote": (),
    "remote_battery": (),
    "coil_cable": _ELECTRIC_WORK,
    "motor": (*_ELECTRIC_WORK, "C7"),
    "fuse": ("C5", *_ELECTRIC_WORK),
    "supply_feed": (*_ELECTRIC_WORK, "C11"),
    "open_sensor": (*_ELECTRIC_WORK, "C9"),
    "closed_sensor": (*_ELECTRIC_WORK, "C9"),
    "panel": ("C2", "C7", "C12"),
    "turnbuckle": ("C2", "C7", "C9"),
}
_ALWAYS = ("C10",)


def caution_codes(*, complaint: str, component: Component | None) -> tuple[str, ...]:
    """Codes of the cautions for a complaint and a component, the gravest first, each once."""
    codes = list(_BY_COMPLAINT.get(complaint, ()))
    if component:
        codes += _BY_COMPONENT.get(component.code, _BY_KIND[component.kind])
    return tuple(dict.fromkeys((*codes, *_ALWAYS)))


def gravest_first(cautions: Iterable[Caution]) -> list[Caution]:
    """Cautions by their signal word, from danger to notice."""
    return sorted(cautions, key=lambda each: (SignalWord.values.index(each.signal_word), each.pk))


def cautions_in_order(codes: Iterable[str]) -> list[Caution]:
    """The catalogue's wording of the codes, in the order given; queries once."""
    wanted = list(codes)
    found = {caution.code: caution for caution in Caution.objects.filter(code__in=wanted)}
    return [found[code] for code in wanted if code in found]
