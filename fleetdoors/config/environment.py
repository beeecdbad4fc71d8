"""Settings from the environment and a .env file: each is checked once, here."""

import secrets
from pathlib import Path
from urllib.parse import urlsplit

import dj_database_url
from django.core.exceptions import ImproperlyConfigured
from environs import Env
from environs.exceptions import EnvError

ROOT = Path(__file__).resolve().parents[2]
KNOWN_DATABASES = ("sqlite", "postgres", "postgresql")

env = Env()
env.read_env(str(ROOT / ".env"), recurse=False)


def yes_or_no(name: str) -> bool:
    """The value of a switch that is off unless it is set."""
    try:
        return env.bool(name, False)
    except EnvError as error:
        raise ImproperlyConfigured(
            f"{name} must be one of true, false, yes, no, 1, 0; it is {env.str(name)!r}."
        ) from error


def words(name: str, default: str) -> list[str]:
    """A comma-separated value as a list without blanks."""
    return [word.strip() for word in env.str(name, default).split(",") if word.strip()]


def data_folder() -> Path:
    """The folder for the database file, the generated key, uploads and static files."""
    folder = Path(env.str("FLEETDOORS_DATA_DIR", str(ROOT / "data"))).expanduser()
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise ImproperlyConfigured(
            f"FLEETDOORS_DATA_DIR must name a folder that can be written to; {folder} cannot: "
            f"{error.strerror}."
        ) from error
    return folder


def database(folder: Path) -> dict[str, object]:
    """Django's settings for the database that DATABASE_URL names."""
    url = env.str("DATABASE_URL", "") or f"sqlite:///{folder / 'fleetdoors.sqlite3'}"
    if urlsplit(url).scheme not in KNOWN_DATABASES:
        raise ImproperlyConfigured(
            "DATABASE_URL must start with sqlite:// or postgresql://; it starts with "
            f"{urlsplit(url).scheme or 'nothing'!r}."
        )
    settings: dict[str, object] = dict(dj_database_url.parse(url, conn_max_age=60))
    if settings["ENGINE"] == "django.db.backends.sqlite3":
        settings["CONN_MAX_AGE"] = 0
        settings["OPTIONS"] = {
            # Phones write while an import or a recompute runs: readers never wait on a writer,
            # and a writer takes its lock at the start instead of failing half-way.
            "transaction_mode": "IMMEDIATE",
            "timeout": 20,
            "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=NORMAL;",
        }
    return settings


def redis_address() -> str:
    """The address of Redis, or an empty string when everything runs in this process."""
    url = env.str("REDIS_URL", "")
    if url and urlsplit(url).scheme not in ("redis", "rediss", "unix"):
        raise ImproperlyConfigured(
            f"REDIS_URL must start with redis://, rediss:// or unix://; it is {url!r}."
        )
    return url


def secret_key(folder: Path) -> str:
    """The signing key: SECRET_KEY, or one made at the first start and kept in the data folder."""
    given = env.str("SECRET_KEY", "")
    if given:
        return given
    kept = folder / "secret_key"
    if not kept.exists():
        kept.touch(mode=0o600)
        kept.write_text(secrets.token_urlsafe(64))
    return kept.read_text().strip()
