"""Django's settings: the three apps are joined here, by name."""

from importlib.util import find_spec
from pathlib import Path

from celery.schedules import crontab

from fleetdoors.config import environment as from_env
from fleetdoors.config import logs
from fleetdoors.config.mail import mail_server

ROOT = from_env.ROOT
DATA_DIR = from_env.data_folder()
DEBUG = from_env.yes_or_no("DEBUG")
DEMO = from_env.yes_or_no("DEMO")
# One setting for what labels, mails and feeds say: it brings its host, its origin and https along.
PUBLIC_ADDRESS = from_env.public_address()
TLS_CERTIFICATE = from_env.certificate()
HTTPS = from_env.yes_or_no("HTTPS") or PUBLIC_ADDRESS.startswith("https://")
SECRET_KEY = from_env.secret_key(DATA_DIR)
ALLOWED_HOSTS = from_env.host_names(PUBLIC_ADDRESS)
CSRF_TRUSTED_ORIGINS = from_env.trusted_origins(PUBLIC_ADDRESS)
DATABASES = {"default": from_env.database(DATA_DIR)}
REDIS_URL = from_env.redis_address()
DOORS_IN_SLICE = from_env.doors_in_slice()
HOST = from_env.host()
PORT = from_env.port()

INSTALLED_APPS = [
    "fleetdoors",
    "inspections",
    "analytics",
    "django.contrib.admin",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.contrib.humanize",
    "django_tables2",
    "django_filters",
    "django_htmx",
    "axes",
    "csp",
]
MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "fleetdoors.views.readers_clock.ReadersClockMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "axes.middleware.AxesMiddleware",
    "fleetdoors.units_in_use.UnitsMiddleware",
]
ROOT_URLCONF = "fleetdoors.config.urls"
WSGI_APPLICATION = "fleetdoors.config.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [ROOT / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "fleetdoors.navigation.shell",
                "inspections.notices.depot_notices",
            ],
        },
    },
]

# What the three apps may ask of each other, by dotted name: a lower one never imports a higher one.
RECOMPUTE_DOORS = "analytics.tasks.request_recompute"
RECOMPUTE_OUTLOOKS = "analytics.tasks.request_outlooks"

AUTH_USER_MODEL = "fleetdoors.User"
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "django.contrib.auth.backends.ModelBackend",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 12},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
]
LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "today"
LOGOUT_REDIRECT_URL = "sign-in"
AXES_FAILURE_LIMIT = 8
AXES_COOLOFF_TIME = 0.25
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_RESET_ON_SUCCESS = True
AXES_VERBOSE = False

# Signed cookies: a page view writes no row, so reading never waits on an import.
SESSION_ENGINE = "django.contrib.sessions.backends.signed_cookies"
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
# Twelve hours after the last page the session is over: a shift, and its handover.
SESSION_COOKIE_AGE = 12 * 3600
SESSION_SAVE_EVERY_REQUEST = True
MESSAGE_STORAGE = "django.contrib.messages.storage.fallback.FallbackStorage"
SESSION_COOKIE_SECURE = HTTPS
CSRF_COOKIE_SECURE = HTTPS
SECURE_SSL_REDIRECT = HTTPS
SECURE_HSTS_SECONDS = 31_536_000 if HTTPS else 0
SECURE_HSTS_INCLUDE_SUBDOMAINS = HTTPS
SECURE_HSTS_PRELOAD = HTTPS
# Said by a proxy in front; where the web server speaks TLS itself, nobody may say it.
SECURE_PROXY_SSL_HEADER = (
    ("HTTP_X_FORWARDED_PROTO", "https") if HTTPS and not TLS_CERTIFICATE else None
)
X_FRAME_OPTIONS = "DENY"
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": ["'self'"],
        "img-src": ["'self'", "data:", "blob:"],
        "object-src": ["'none'"],
        "base-uri": ["'none'"],
        "frame-ancestors": ["'none'"],
        "form-action": ["'self'"],
    },
}

LANGUAGE_CODE = "en"
UNITS = from_env.units()
RETENTION_RULES = from_env.retention_rules()
# Each by its own name: who looks for a language does not read the other.
LANGUAGES = [("en", "English"), ("es", "Español")]
LANGUAGE_COOKIE_AGE = 365 * 24 * 3600
LANGUAGE_COOKIE_SAMESITE = "Lax"
LANGUAGE_COOKIE_SECURE = HTTPS
FORMAT_MODULE_PATH = ["fleetdoors.formats"]
LOCALE_PATHS = [ROOT / "fleetdoors" / "locale"]
USE_I18N = True
USE_TZ = True
TIME_ZONE = "UTC"

STATIC_URL = "/static/"
STATIC_ROOT = from_env.static_folder(DATA_DIR)
STATICFILES_DIRS = [
    # plotly.min.js comes from the installed package: nothing is fetched at run time.
    ("vendor", Path(str(find_spec("plotly").origin)).parent / "package_data"),  # type: ignore[union-attr]
]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "whitenoise.storage.CompressedStaticFilesStorage"},
}
# Until `collectstatic` has filled STATIC_ROOT, files are served from where they lie: a demo needs
# no second command, and a served install gets the compressed copies.
WHITENOISE_USE_FINDERS = not any(STATIC_ROOT.iterdir())
MEDIA_ROOT = DATA_DIR / "uploads"
UPLOAD_LIMIT_BYTES = 50 * 1024 * 1024
DATA_UPLOAD_MAX_MEMORY_SIZE = 5 * 1024 * 1024
FILE_UPLOAD_MAX_MEMORY_SIZE = 5 * 1024 * 1024

# The morning mail: without a server none is sent, and its page says so.
_MAIL = mail_server()
MAIL_SERVER = _MAIL.url
EMAIL_BACKEND = f"django.core.mail.backends.{'smtp' if MAIL_SERVER else 'dummy'}.EmailBackend"
EMAIL_HOST, EMAIL_PORT = _MAIL.host, _MAIL.port
EMAIL_HOST_USER, EMAIL_HOST_PASSWORD = _MAIL.user, _MAIL.password
EMAIL_USE_TLS, EMAIL_USE_SSL = _MAIL.use_tls, _MAIL.use_ssl
EMAIL_TIMEOUT = 20
DEFAULT_FROM_EMAIL = from_env.env.str("MAIL_FROM", "") or "fleetdoors@localhost"

# Counts how often other systems call: over all web processes with Redis, in each one without it.
CACHES = {
    "default": {
        "BACKEND": "django.core.cache.backends.redis.RedisCache",
        "LOCATION": REDIS_URL,
        "OPTIONS": {"socket_connect_timeout": 2, "socket_timeout": 2},
    }
    if REDIS_URL
    else {"BACKEND": "django.core.cache.backends.locmem.LocMemCache"}
}

DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"
DJANGO_TABLES2_TEMPLATE = "components/table.html"

CELERY_BROKER_URL = REDIS_URL or None
CELERY_RESULT_BACKEND = REDIS_URL or None
CELERY_TASK_ALWAYS_EAGER = not REDIS_URL
CELERY_TASK_ACKS_LATE = True
CELERY_TASK_REJECT_ON_WORKER_LOST = True
CELERY_WORKER_PREFETCH_MULTIPLIER = 1
CELERY_RESULT_BACKEND_ALWAYS_RETRY = True
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
# A task lost with its worker is given out again after the visibility timeout. That must be longer
# than the longest task, a run over the whole fleet, or a task that still runs would start twice;
# the hard limit makes it so. Doors need not wait that long: a sweep finds them stale before.
CELERY_TASK_SOFT_TIME_LIMIT = 840
CELERY_TASK_TIME_LIMIT = 900
CELERY_BROKER_TRANSPORT_OPTIONS = {
    "visibility_timeout": 960,
    "unacked_restore_interval": 5,
    "unacked_restore_throttle": 1,
    "socket_connect_timeout": 2,
    # Of a line that was cut nobody is told: without it a person's page waits for ever.
    "socket_timeout": 5,
}
CELERY_BEAT_SCHEDULE = {
    "what is stale": {"task": "analytics.bring_up_to_date", "schedule": 60.0},
    "the morning mail": {
        "task": "analytics.send_morning_mail",
        "schedule": crontab(minute="30", hour="5"),
    },
    "how good forecasts were": {
        "task": "analytics.check_past_forecasts",
        "schedule": crontab(minute="20", hour="3", day_of_month="1"),
    },
    # Ranges and states move with the days even where nobody enters anything.
    "a new day": {
        "task": "analytics.recompute_each_night",
        "schedule": crontab(minute="10", hour="2"),
    },
}
CELERY_BEAT_SCHEDULE_FILENAME = str(DATA_DIR / "beat_schedule")
# Nobody waits for a task's result: the derived rows are the result. Waiting for one would also
# hold a person's page for 20 s when Redis is away; a task that is part of a chord asks for its own.
CELERY_TASK_IGNORE_RESULT = True
CELERY_RESULT_EXPIRES = 3600
CELERY_TASK_PUBLISH_RETRY_POLICY = {"max_retries": 1, "interval_start": 0, "interval_max": 0.1}

logs.configure()
LOGGING = logs.LOGGING
