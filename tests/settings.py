"""The served settings, with a data folder of its own and nothing from this machine's environment.

`FLEETDOORS_TEST_DATABASE_URL` runs the same tests on another database, such as PostgreSQL.
"""

import atexit
import os
import shutil
import tempfile
from pathlib import Path

_folder = tempfile.mkdtemp(prefix="fleetdoors-tests-")
atexit.register(shutil.rmtree, _folder, ignore_errors=True)

# An empty value counts as not set, and keeps a value in .env out.
os.environ.update(
    {
        "FLEETDOORS_DATA_DIR": _folder,
        "DATABASE_URL": os.environ.get("FLEETDOORS_TEST_DATABASE_URL", ""),
        **dict.fromkeys(
            (
                "REDIS_URL",
                "DOORS_IN_SLICE",
                "PUBLIC_ADDRESS",
                "TLS_CERTIFICATE",
                "SECRET_KEY",
                "DEBUG",
                "DEMO",
                "HTTPS",
                "HOST",
                "PORT",
                "ALLOWED_HOSTS",
                "MAIL_SERVER",
                "MAIL_FROM",
                "CSRF_TRUSTED_ORIGINS",
            ),
            "",
        ),
    }
)

from fleetdoors.config import settings as served  # noqa: E402  the environment comes first

globals().update({name: getattr(served, name) for name in dir(served) if name.isupper()})

# A file, not memory: a live server's threads then each have a connection of their own, as served.
if not os.environ["DATABASE_URL"]:
    served.DATABASES["default"]["TEST"] = {"NAME": str(Path(_folder) / "test.sqlite3")}
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
