"""Structured logs: every line is one JSON object on standard error."""

import logging

import structlog

STEPS = (
    structlog.contextvars.merge_contextvars,
    structlog.stdlib.add_logger_name,
    structlog.stdlib.add_log_level,
    structlog.stdlib.ExtraAdder(allow={"status_code"}),
    structlog.processors.TimeStamper(fmt="iso", utc=True),
)


# Where it went wrong, never with what values: local names hold passwords and people's words.
TRACES = structlog.processors.ExceptionRenderer(
    structlog.tracebacks.ExceptionDictTransformer(show_locals=False, max_frames=20)
)


def as_json() -> logging.Formatter:
    """The formatter for our own lines and for those of Django and the libraries."""
    return structlog.stdlib.ProcessorFormatter(
        foreign_pre_chain=STEPS,
        processors=[
            structlog.stdlib.ProcessorFormatter.remove_processors_meta,
            TRACES,
            structlog.processors.JSONRenderer(ensure_ascii=False, default=str),
        ],
    )


def configure() -> None:
    """Lead structlog's lines through the standard library, which knows the levels."""
    structlog.configure(
        processors=[
            structlog.stdlib.filter_by_level,
            *STEPS,
            structlog.stdlib.ProcessorFormatter.wrap_for_formatter,
        ],
        logger_factory=structlog.stdlib.LoggerFactory(),
        wrapper_class=structlog.stdlib.BoundLogger,
        cache_logger_on_first_use=True,
    )


LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"fields": {"()": as_json}},
    "handlers": {"stderr": {"class": "logging.StreamHandler", "formatter": "fields"}},
    "root": {"handlers": ["stderr"], "level": "WARNING"},
    "loggers": {
        # Django's own handlers would write the same line a second time, not as JSON.
        "django": {"handlers": [], "level": "WARNING", "propagate": True},
        "django.server": {"handlers": [], "level": "WARNING", "propagate": True},
        "fleetdoors": {"level": "INFO"},
        "inspections": {"level": "INFO"},
        "analytics": {"level": "INFO"},
        "axes": {"level": "ERROR"},
    },
}
