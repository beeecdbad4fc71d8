"""Tasks changed in the registry: the same record of the change as on the catalogue's own page."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from fleetdoors.models import MaintenanceTask, Role, TaskChange
from tests.factories import make_user, task

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("recompute_requests")]
PREFIX = "severity_factors"


def administrator() -> Client:
    client = Client()
    client.force_login(make_user(role=Role.ADMINISTRATOR))
    return client


def filled_in(row: MaintenanceTask, **changed: object) -> dict[str, object]:
    """The registry's form as it stands, with some fields typed anew."""
    factors = list(row.severity_factors.order_by("pk")) if row.pk else []
    columns = (
        "code", "name", "kind", "performer", "interval_cycles", "interval_days", "minutes",
        "window_before_percent", "window_after_percent", "spring_class_share",
    )  # fmt: skip
    form: dict[str, object] = {
        name: value for name in columns if (value := getattr(row, name)) is not None
    }
    form["is_on_due_lists"] = "on" if row.is_on_due_lists else ""
    form["contains"] = list(row.contains.values_list("pk", flat=True)) if row.pk else []
    form["cautions"] = list(row.cautions.values_list("pk", flat=True)) if row.pk else []
    form |= {f"{PREFIX}-TOTAL_FORMS": len(factors), f"{PREFIX}-INITIAL_FORMS": len(factors)}
    for k, factor in enumerate(factors):
        form |= {
            f"{PREFIX}-{k}-id": factor.pk,
            f"{PREFIX}-{k}-task": row.pk,
            f"{PREFIX}-{k}-condition": factor.condition,
            f"{PREFIX}-{k}-factor": factor.factor,
        }
    return form | {"reason": "the maker's new sheet"} | changed


def change(row: MaintenanceTask) -> str:
    return reverse("admin:fleetdoors_maintenancetask_change", args=(row.pk,))


def test_a_change_leaves_its_record_and_asks_for_new_dates(recompute_requests) -> None:
    row = task("LUB")
    old = row.interval_days
    answer = administrator().post(change(row), filled_in(row, interval_days=75))
    assert answer.status_code == 302
    kept = TaskChange.objects.get()
    assert kept.before is not None
    assert (kept.before["interval_days"], kept.after["interval_days"]) == (old, 75)
    assert kept.reason == "the maker's new sheet"
    assert task("LUB").interval_days == 75
    assert TaskChange.objects.newest_first().first() == kept


def test_what_goes_along_and_factors_are_part_of_it() -> None:
    row = task("ANN")
    inner = task("BAL")
    without = [pk for pk in row.contains.values_list("pk", flat=True) if pk != inner.pk]
    administrator().post(change(row), filled_in(row, contains=without))
    [kept] = TaskChange.objects.all()
    assert kept.before is not None
    assert "BAL" in kept.before["contains"]
    assert "BAL" not in kept.after["contains"]
    factor = task("LUB").severity_factors.order_by("pk")[0]
    administrator().post(
        change(factor.task), filled_in(factor.task, **{f"{PREFIX}-0-factor": 0.35})
    )
    kept = TaskChange.objects.latest("pk")
    assert kept.task == factor.task
    assert kept.before is not None
    assert kept.before["factors"][factor.condition] == factor.factor
    assert kept.after["factors"][factor.condition] == 0.35


def test_nothing_changed_leaves_no_record_and_no_reason_changes_nothing() -> None:
    row = task("LUB")
    client = administrator()
    assert client.post(change(row), filled_in(row)).status_code == 302
    assert not TaskChange.objects.exists()
    refused = client.post(change(row), filled_in(row, interval_days=75, reason=""))
    assert refused.status_code == 200
    assert task("LUB").interval_days == row.interval_days
    assert not TaskChange.objects.exists()


def test_a_new_task_is_kept_as_added() -> None:
    added = MaintenanceTask(code="OWN", name="Own task", interval_days=30)
    page = reverse("admin:fleetdoors_maintenancetask_add")
    assert administrator().post(page, filled_in(added)).status_code == 302
    kept = TaskChange.objects.get()
    assert kept.task.code == "OWN"
    assert kept.before is None


def test_a_task_that_would_contain_itself_is_refused_in_words() -> None:
    inner, outer = task("LUB"), task("ANN")
    assert inner in outer.contains.all()
    answer = administrator().post(change(inner), filled_in(inner, contains=[outer.pk]))
    assert answer.status_code == 200
    assert "LUB would contain itself" in answer.content.decode()
    assert not inner.contains.exists()
