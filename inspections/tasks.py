"""Asking for long work on a fleet folder: by the workers, or in this process."""

from __future__ import annotations

from datetime import datetime
from threading import Thread

import structlog
from django.conf import settings
from django.db import connection
from django.utils import timezone
from django.utils.translation import get_language
from kombu.exceptions import OperationalError

from fleetdoors.config.celery import app
from inspections.services.fleet_folder.beside import Work, do_work, note_asked
from inspections.services.fleet_folder.uploads import bytes_kept

log = structlog.get_logger("inspections")

# Up to so much a person waits for the answer, where there are no workers.
WHILE_WAITING_BYTES = 1024 * 1024


def ask_for_folder_work(token: str, work: Work, *, now: datetime) -> None:
    """Ask for the work, unless it is under way or done; without workers small folders at once."""
    if not note_asked(token, work, now=now, language=get_language() or "en"):
        return
    if settings.REDIS_URL:
        try:
            work_on_folder.delay(token, work)
        except OperationalError as error:
            # A queue that is away must not keep a folder out.
            log.warning("folder_work_not_queued", error=str(error))
        else:
            return
    if bytes_kept(token) <= WHILE_WAITING_BYTES and work is not Work.EXPORT:
        do_work(token, work, now=now)
    else:
        Thread(target=_beside, args=(token, work, now), name="folder", daemon=True).start()


@app.task(name="inspections.work_on_folder")
def work_on_folder(token: str, work: str) -> bool:
    """Do the work; given out twice, it is done once."""
    return do_work(token, Work(work), now=timezone.now())


def _beside(token: str, work: Work, now: datetime) -> None:
    try:
        do_work(token, work, now=now)
    except Exception:  # nobody waits for the thread: what went wrong must be found in the log
        log.exception("folder_work_failed", work=work)
    finally:
        connection.close()
