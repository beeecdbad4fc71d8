"""Whether a database holds anything that a restore would overwrite."""

from __future__ import annotations

from django.db import connection

from fleetdoors.services.backup.kept import kept_models

# Filled by the migrations themselves, before anybody enters anything.
BROUGHT_BY_MIGRATIONS = {
    "auth.Permission",
    "contenttypes.ContentType",
    "fleetdoors.Caution",
    "fleetdoors.Component",
    "fleetdoors.MaintenanceTask",
    "fleetdoors.MaintenanceTask_cautions",
    "fleetdoors.MaintenanceTask_contains",
    "fleetdoors.SeverityFactor",
}
_NAMED = 4


def what_it_holds() -> str:
    """What the database holds besides what every new one does, in a few words; empty if nothing."""
    there = set(connection.introspection.table_names())
    counts = {}
    for model in kept_models():
        if model._meta.label in BROUGHT_BY_MIGRATIONS or model._meta.db_table not in there:
            continue
        with connection.cursor() as cursor:
            quoted = connection.ops.quote_name(model._meta.db_table)
            cursor.execute(f"SELECT count(*) FROM {quoted}")
            counts[str(model._meta.verbose_name_plural)] = cursor.fetchone()[0]
    largest = sorted(counts.items(), key=lambda each: -each[1])[:_NAMED]
    return ", ".join(f"{rows:,} {name}" for name, rows in largest if rows)
