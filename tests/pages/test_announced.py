"""What is announced: entered with a preview, listed, cancelled, and seen in the parts' pages."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from analytics.models import PartOutlook
from analytics.recompute import recompute_outlooks
from fleetdoors.models import Depot, Part, Role
from inspections.models import AnnouncedChange
from tests.announced_factories import TODAY, make_campaign, make_new_trucks, make_other_use
from tests.factories import NOW, component, make_depot, make_door_model, make_part, make_truck
from tests.pages.conftest import SignIn
from tests.pages.running_fleet import compute, make_wearing_fleet

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("stopped_clock")]
LIST = "/announced/"


@pytest.fixture(autouse=True)
def _nobody_computes(settings: Any) -> None:
    settings.RECOMPUTE_OUTLOOKS = "tests.recompute_requests.keep_outlooks"


def body(client: Client, url: str = LIST) -> str:
    answer = client.get(url)
    assert answer.status_code == 200
    return str(answer.content.decode())


def campaign_facts(depot: Depot, part: Part, **other: object) -> dict[str, object]:
    return {
        "depot": depot.pk,
        "part": part.pk,
        "doors": 12,
        "pieces_per_door": 2,
        "from_on": TODAY + timedelta(days=10),
        "until_on": TODAY + timedelta(days=49),
        "note": "Maker's letter",
        **other,
    }


@pytest.mark.parametrize(
    ("role", "status"),
    [(Role.PLANNER, 200), (Role.BUYER, 200), (Role.ADMINISTRATOR, 200), (Role.TECHNICIAN, 403)],
)
def test_announcing_is_for_planners_and_buyers(sign_in: SignIn, role: Role, status: int) -> None:
    client, change = sign_in(role), make_campaign()
    cancel = reverse("announced-cancel", args=[change.pk])
    for url in (LIST, "/announced/new/trucks/", "/announced/new/use/", cancel):
        assert client.get(url).status_code == status
    assert sign_in().get("/announced/new/weather/").status_code == 404


def test_without_an_announcement_the_page_says_what_to_do(sign_in: SignIn) -> None:
    text = body(sign_in())
    assert "Nothing is announced" in text
    assert "/announced/new/campaign/" in text


def test_an_empty_database_says_what_is_missing(sign_in: SignIn) -> None:
    client = sign_in()
    assert "No depot is on record yet" in body(client, "/announced/new/use/")
    make_depot()
    assert "No door model is on record yet" in body(client, "/announced/new/trucks/")
    assert "The catalogue holds no part yet" in body(client, "/announced/new/campaign/")
    assert "What would it do?" in body(client, "/announced/new/use/")


def test_a_campaign_is_tried_before_it_is_announced(sign_in: SignIn) -> None:
    depot, old = make_depot(code="N"), make_part(part_number="OLD", component=component("fuse"))
    new = make_part(part_number="NEW", component=component("fuse"))
    new.replaces = old
    new.save()
    compute()
    client, url = sign_in(Role.BUYER), "/announced/new/campaign/"
    assert "Announce it" not in body(client, url)
    tried = client.post(url, {**campaign_facts(depot, old), "preview": "1"})
    preview = tried.context["preview"]
    assert preview.sentence == "1 need for a part moves: +24.0 pieces within 90 days."
    told = [[cell.value for cell in row[:4]] for row in preview.rows]
    assert told == [[str(new), "Depot N", "0.0", "24.0 (+24.0)"]]
    assert "Announce it" in tried.content.decode()
    assert not AnnouncedChange.objects.exists()
    assert client.post(url, {**campaign_facts(depot, old), "save": "1"}).status_code == 302
    kept = AnnouncedChange.objects.get()
    assert (kept.part, kept.new_part, kept.entered_at) == (old, new, NOW)
    assert str(kept.entered_by) == str(client.get(LIST).context["user"])


def test_the_preview_says_what_the_outlook_then_says(sign_in: SignIn) -> None:
    depot, part = (
        make_depot(code="N"),
        make_part(part_number="C", component=component("coil_cable")),
    )
    make_wearing_fleet(doors=12, depot=depot, part=part)
    compute()
    facts = {"depot": "", "factor": "1.6", "from_on": TODAY, "note": "x", "route_kind": ""}
    client = sign_in()
    row = client.post("/announced/new/use/", facts).context["preview"].rows[0]
    client.post("/announced/new/use/", {**facts, "save": "1"})
    recompute_outlooks(as_of=NOW + timedelta(seconds=1))
    outlook = PartOutlook.objects.get(part=part)
    assert row[3].value.startswith(f"{outlook.mean:.1f} (+")
    assert int(row[5].value) == outlook.reorder_point
    page = client.get(reverse("part-detail", args=["C"]))
    text = page.content.decode()
    of_this = f"of this {outlook.explanation['announced_use']:.1f} from announced changes"
    assert of_this in text
    assert 'href="/announced/"' in text
    assert "Of this, announced" in text
    assert of_this in body(client, "/parts/")
    (line,) = client.get(LIST).context["page"].shifted
    assert line.announced == f"+{outlook.explanation['announced_use']:.1f}"
    assert line.kinds == f"another use {line.announced}"


def test_what_is_wrong_is_said_beside_the_field(sign_in: SignIn) -> None:
    depot, part = make_depot(), make_part(component=component("fuse"))
    other = make_part(component=component("motor"))
    client, url = sign_in(), "/announced/new/campaign/"
    cases = {
        "new_part": {"new_part": other.pk},
        "until_on": {"until_on": TODAY},
        "doors": {"doors": 0},
        "note": {"note": " "},
        "depot": {"depot": ""},
    }
    for field, wrong in cases.items():
        answer = client.post(url, {**campaign_facts(depot, part), **wrong, "save": "1"})
        assert list(answer.context["form"].errors) == [field]
        assert answer.context["preview"] is None
    assert not AnnouncedChange.objects.exists()


def test_before_the_first_run_the_preview_says_so(sign_in: SignIn) -> None:
    facts = campaign_facts(make_depot(), make_part())
    answer = sign_in().post("/announced/new/campaign/", facts)
    assert "No figures are computed yet" in answer.content.decode()


def test_whoever_sees_some_depots_announces_for_those(sign_in: SignIn) -> None:
    own, foreign = make_depot(code="OWN"), make_depot(code="FOREIGN")
    make_truck(depot=foreign, route_kind="harbour")
    client = sign_in(depots=[own])
    page = body(client, "/announced/new/use/")
    assert "every depot" not in page
    assert "Depot FOREIGN" not in page
    assert "harbour" not in page
    facts = {"factor": "1.5", "from_on": TODAY, "note": "x", "save": "1"}
    for depot in ("", foreign.pk):
        answer = client.post("/announced/new/use/", {**facts, "depot": depot})
        assert "depot" in answer.context["form"].errors
    assert client.post("/announced/new/use/", {**facts, "depot": own.pk}).status_code == 302


def test_foreign_announcements_are_hidden_and_those_for_all_are_not_theirs_to_cancel(
    sign_in: SignIn,
) -> None:
    own, foreign = make_depot(code="OWN"), make_depot(code="FOREIGN")
    mine, theirs = make_campaign(depot=own), make_campaign(depot=foreign, doors=77)
    for_all = make_other_use(factor=1.25)
    client = sign_in(depots=[own])
    text = body(client)
    assert "77" not in text
    assert "1.25 times the use of today" in text
    statuses = {
        change.pk: client.post(
            reverse("announced-cancel", args=[change.pk]), {"reason": "No"}
        ).status_code
        for change in (mine, theirs, for_all)
    }
    assert list(statuses.values()) == [302, 404, 403]
    assert set(AnnouncedChange.objects.standing()) == {theirs, for_all}


def test_cancelled_it_stays_with_who_when_and_why(sign_in: SignIn) -> None:
    change = make_other_use(depot=make_depot(), factor=1.75)
    client, url = sign_in(), reverse("announced-cancel", args=[change.pk])
    assert "reason" in client.post(url, {"reason": ""}).context["form"].errors
    client.post(url, {"reason": "Contract lost"})
    text = body(client)
    assert "Nothing is announced" in text
    assert "1.75 times the use of today" in text
    assert "Contract lost" in text
    assert "cancelled before" in client.post(url, {"reason": "Again"}).content.decode()


def test_trucks_say_how_many_of_them_came(sign_in: SignIn) -> None:
    depot, model = make_depot(), make_door_model()
    make_new_trucks(depot=depot, door_model=model, doors=3, in_days=5)
    assert "0 of 3 on record" in body(sign_in())


def test_the_list_asks_the_database_as_often_for_many(sign_in: SignIn) -> None:
    client, counts = sign_in(), []
    for _round in range(2):
        for _each in range(3):
            make_campaign()
            make_new_trucks()
            make_other_use()
        with CaptureQueriesContext(
            connection,
        ) as queries:
            body(client)
        counts.append(len(queries))
    assert counts[0] == counts[1]
