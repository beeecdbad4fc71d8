"""What a plan's page says: jobs, changes, reasons, and how good the plan is."""

from __future__ import annotations

from datetime import date

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from analytics.datasets.findings import HOLD
from analytics.kernel.schedule import Why
from analytics.models import Proposal, ProposedJob
from analytics.scheduling.board import BoardVisit
from fleetdoors.templatetags.units import duration, per_cent, short_day
from inspections.kept_words import as_read
from inspections.models import JobKind

WHY_NOT = {
    Why.TRUCK_AWAY: gettext_lazy("the truck is not in on any night that would do"),
    Why.TOO_LONG: gettext_lazy("no night has the hours for it"),
    Why.NOBODY_TRAINED: gettext_lazy("nobody trained for spring work is there"),
    Why.NO_ROOM: gettext_lazy("the nights that would do are full"),
    Why.PIN_HAS_NO_ROOM: gettext_lazy("the night chosen for it has no room"),
}


def job_words(job: ProposedJob) -> str:
    """A job in words."""
    if job.kind == HOLD:
        return _("repair: the door is held")
    if job.kind == JobKind.FOLLOW_UP and job.follow_up:
        return f"{job.task}: {as_read(job.follow_up.because)}"
    if job.kind == JobKind.FAULT and job.fault:
        what = job.fault.component or job.fault.get_complaint_display() or _("cause not known yet")
        return _("fault: %(what)s") % {"what": what}
    if job.kind == JobKind.DEFECT and job.defect_report:
        what = job.defect_report.get_complaint_display()
        return _("driver's report: %(what)s") % {"what": what}
    return str(job.task)


def why_in(visit: BoardVisit, today: date) -> str:
    """Why a visit is in the plan: the most pressing of its jobs."""
    if any(job.goes_first for job in visit.jobs):
        return _("the door is held: it goes before all others")
    if any(job.kind != JobKind.TASK for job in visit.jobs):
        return _("something found on the door asks for it")
    due = min((job.due_on for job in visit.jobs if job.due_on), default=None)
    if due is None:
        return ""
    if due < today:
        days = (today - due).days
        late = ngettext("%(count)d day", "%(count)d days", days) % {"count": days}
        return _("late by %(days)s today") % {"days": late}
    return _("due %(day)s") % {"day": short_day(due)}


def why_left_out(visit: BoardVisit) -> str:
    """Why nothing, or not all, of a truck's work found a night."""
    reasons = dict.fromkeys(WHY_NOT.get(Why(job.why_not), "") for job in visit.jobs)
    return "; ".join(str(reason) for reason in reasons if reason)


def how_good(proposal: Proposal) -> str:
    """How near the plan is to the best that there can be."""
    if not proposal.is_full:
        return _(
            "A quick plan, made in an instant. How near it is to the best one is known after a "
            "full run."
        )
    if proposal.gap <= 0.001:
        return _(
            "No plan within these hours does better: late days, visits and work left out "
            "are as few as they can be."
        )
    return _(
        "No plan within these hours can do better than this one by more than %(gap)s, late days, "
        "visits and work left out weighed together."
    ) % {"gap": per_cent(proposal.gap, 1)}


def hours_words(minutes: float, there: float) -> str:
    """How full a night is."""
    if there <= 0 and minutes <= 0:
        return _("shut")
    if minutes > there:
        return _("%(minutes)s of %(there)s: %(over)s over") % {
            "minutes": duration(minutes),
            "there": duration(there),
            "over": duration(minutes - there),
        }
    return _("%(minutes)s of %(there)s") % {
        "minutes": duration(minutes),
        "there": duration(there),
    }
