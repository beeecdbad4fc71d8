"""Backup of everything into one file, and restore of it, on either database.

The file is a zip archive: one table per member as lines of JSON, the uploaded files as they are,
and a manifest with the digest of each. Its rows are those of one moment, and it names the
migrations behind them, so that a later version restores it by running the migrations since.
"""

from fleetdoors.services.backup.archive import BackupRefusedError
from fleetdoors.services.backup.making import make_backup
from fleetdoors.services.backup.restoring import restore_backup

__all__ = ["BackupRefusedError", "make_backup", "restore_backup"]
