"""The components, preventive tasks, severity factors and cautions that every fleet starts with.

Intervals, minutes and factors are assumptions of common practice and are meant to be edited; the
quarterly or 5,000-cycle lubrication, the monthly reversal test and the half-yearly balance test
follow what trade pages advise for powered building doors.
"""

from django.db import migrations

COMPONENTS = (
    ("remote", "Remote control", "electronic"),
    ("remote_battery", "Remote battery", "electrical"),
    ("receiver", "Receiver", "electronic"),
    ("switch", "Wall or cab switch", "electrical"),
    ("supply_feed", "Supply feed", "electrical"),
    ("converter", "Converter", "electronic"),
    ("fuse", "Fuse", "electrical"),
    ("fuse_holder", "Fuse holder", "electrical"),
    ("control_board", "Control board", "electronic"),
    ("counter", "Cycle counter", "electronic"),
    ("coil_cable", "Coil cable", "fatigue"),
    ("slider", "Cable slider", "mechanical"),
    ("connector", "Connector", "electrical"),
    ("motor", "Drive motor", "mechanical"),
    ("open_sensor", "Open sensor", "electronic"),
    ("closed_sensor", "Closed sensor", "electronic"),
    ("ajar_lamp", "Ajar lamp", "electrical"),
    ("spring", "Spring", "fatigue"),
    ("lift_cable", "Lift cable", "fatigue"),
    ("roller", "Rollers", "mechanical"),
    ("hinge", "Hinge", "mechanical"),
    ("track", "Track", "mechanical"),
    ("panel", "Panel or slat", "mechanical"),
    ("bottom_seal", "Bottom seal", "mechanical"),
    ("turnbuckle", "Turnbuckle", "mechanical"),
    ("manual_release", "Manual release", "mechanical"),
    ("gasket", "Box gasket", "mechanical"),
)

CAUTIONS = (
    (
        "C1",
        "warning",
        "A spring stays wound with the power off. Only a person trained and authorized for it works "
        "on springs, shaft, drums and bottom brackets.",
    ),
    (
        "C2",
        "warning",
        "A door can come down. Keep the opening clear of people; clamp or prop the door before "
        "anyone works under or beside it.",
    ),
    (
        "C3",
        "warning",
        "The door can start from any control. Take the battery feed off, lock or tag it, keep the "
        "key and the remote with you, and try every control before you reach in.",
    ),
    (
        "C4",
        "caution",
        "Measuring live: 12 V and about 32 V could burn you and draw an arc. Insulated probes, fused "
        "leads, one hand, rings off.",
    ),
    (
        "C5",
        "notice",
        "A new fuse must carry the same type, current and voltage marking. Before a second one goes "
        "in, find out why the first one blew.",
    ),
    (
        "C6",
        "warning",
        "The truck could roll. Set the brake, chock the wheels and keep people away from its rear.",
    ),
    (
        "C7",
        "caution",
        "Hinges, rollers, track bends, drums and the slider could pinch. No fingers between sections.",
    ),
    (
        "C8",
        "warning",
        "With a broken spring or a damaged lift cable the door could fall. Do not run it; tag it out.",
    ),
    (
        "C9",
        "notice",
        "After any change to force, limits, spring, cable or sensors: put guards back and repeat the "
        "obstruction test.",
    ),
    (
        "C10",
        "notice",
        "The door maker's and the vehicle maker's instructions and local rules come first; the "
        "figures shown here are typical ones.",
    ),
    (
        "C11",
        "caution",
        "A battery gives off gas and holds acid. Eye protection, no flame, fresh air.",
    ),
    ("C12", "caution", "Panels, shaft and door are heavy. Two people lift."),
)

# code, name, cycles, days, minutes, who, kind, on due lists, cautions
TASKS = (
    ("DRV", "Walk-round by the driver", None, 1, 1, "driver", "inspection", False, "C2"),
    ("CTR", "Counter reading", None, 30, 1, "anyone", "data", True, ""),
    ("CLN", "Cleaning of tracks, glance at cables", 1000, 7, 5, "driver", "cleaning", False, "C2 C7"),
    (
        "REV", "Obstruction, lamp and switch test", 2500, 30, 5, "technician", "failure_finding",
        True, "C2 C9",
    ),
    ("LUB", "Lubrication", 5000, 90, 15, "technician", "predetermined", True, "C3 C6 C7 C10"),
    (
        "LFT", "Close look at lift cables and springs", 5000, 90, 8, "technician", "condition",
        True, "C1 C6 C8",
    ),
    ("COI", "Coil cable re-coiling", 5000, 90, 10, "technician", "condition", True, "C3 C6 C7"),
    ("REL", "Manual release check", 5000, 90, 3, "technician", "failure_finding", True, "C2 C6"),
    ("BAL", "Balance check", 10000, 180, 10, "technician", "condition", True, "C1 C2 C3 C6 C7"),
    ("SEN", "Sensor check", 10000, 180, 8, "technician", "condition", True, "C2 C3 C6 C9"),
    ("FAS", "Fasteners and brackets", 10000, 180, 12, "technician", "inspection", True, "C3 C6 C7"),
    ("SEA", "Seal, panels and drains", 10000, 180, 6, "technician", "condition", True, "C2 C6"),
    ("ELE", "Electrical set of measurements", 10000, 180, 12, "technician", "condition", True, "C4 C6 C11"),
    ("RBT", "Remote battery", None, 365, 3, "anyone", "predetermined", True, ""),
    ("ANN", "Full inspection", 25000, 365, 120, "senior", "inspection", True, "C1 C2 C3 C4 C6 C7 C10"),
    (
        "REN", "Spring and lift cable renewal", None, None, 150, "spring_trained", "predetermined",
        True, "C1 C2 C3 C6 C12",
    ),
)

CONTAINS = {
    "ANN": ("CTR", "REV", "LUB", "LFT", "COI", "REL", "BAL", "SEN", "FAS", "SEA", "ELE", "RBT"),
}

# Factors by condition for the task groups (LUB CLN), (LFT REN), (COI ELE), (SEN REV), all others.
GROUPS = (("LUB", "CLN"), ("LFT", "REN"), ("COI", "ELE"), ("SEN", "REV"))
FACTORS = {
    "salt": (0.5, 0.6, 0.6, 0.8, 0.8),
    "coast": (0.8, 0.7, 0.7, 0.9, 0.9),
    "dust": (0.5, 0.9, 0.8, 0.8, 0.8),
    "wash_down": (0.7, 0.8, 0.7, 0.8, 0.9),
    "cold": (0.8, 0.9, 0.8, 0.9, 0.9),
    "high_duty": (0.7, 0.9, 0.8, 1.0, 1.0),
    "rough_use": (0.9, 0.9, 0.9, 0.8, 0.7),
}
# A reading, a walk-round and a remote battery do not wear out sooner in salt or dust.
WITHOUT_FACTORS = ("DRV", "CTR", "RBT")


def load(apps, schema_editor):
    component = apps.get_model("fleetdoors", "Component")
    caution = apps.get_model("fleetdoors", "Caution")
    task_model = apps.get_model("fleetdoors", "MaintenanceTask")
    factor = apps.get_model("fleetdoors", "SeverityFactor")
    component.objects.bulk_create(
        component(code=code, name=name, kind=kind) for code, name, kind in COMPONENTS
    )
    cautions = {
        code: caution.objects.create(code=code, signal_word=word, text=text)
        for code, word, text in CAUTIONS
    }
    tasks = {}
    for code, name, cycles, days, minutes, who, kind, listed, warns in TASKS:
        tasks[code] = task_model.objects.create(
            code=code, name=name, interval_cycles=cycles, interval_days=days, minutes=minutes,
            performer=who, kind=kind, is_on_due_lists=listed,
            spring_class_share=0.5 if code == "REN" else None,
        )
        tasks[code].cautions.set(cautions[each] for each in warns.split())
    for code, parts in CONTAINS.items():
        tasks[code].contains.set(tasks[part] for part in parts)
    for code, task in tasks.items():
        if code in WITHOUT_FACTORS:
            continue
        group = next((i for i, codes in enumerate(GROUPS) if code in codes), len(GROUPS))
        factor.objects.bulk_create(
            factor(task=task, condition=condition, factor=values[group])
            for condition, values in FACTORS.items()
            if values[group] != 1.0
        )


def unload(apps, schema_editor):
    for name in ("SeverityFactor", "MaintenanceTask", "Caution", "Component"):
        apps.get_model("fleetdoors", name).objects.all().delete()


class Migration(migrations.Migration):
    dependencies = [("fleetdoors", "0001_initial")]
    operations = [migrations.RunPython(load, unload)]
