"""Every named constraint: the database itself refuses the row, and the forms say so first."""

from collections.abc import Callable
from datetime import date, time, timedelta
from typing import Any

import pytest
from django.apps import apps
from django.core.exceptions import ValidationError
from django.db import IntegrityError, models, transaction
from django.db.models import NOT_PROVIDED, Model

from analytics.models import (
    CheckEvidence,
    ComponentLife,
    Computation,
    ComputationSlice,
    DoorFailure,
    DoorFigures,
    DueTask,
    ForecastCheck,
    ForecastScore,
    LifeEvidence,
    PartOutlook,
    PeriodUse,
    PlanRun,
    Proposal,
    ProposedVisit,
    ReliabilitySums,
    SuspectReading,
)
from fleetdoors.models import (
    ClosedDay,
    DepotWeekday,
    LayUp,
    PersonWeekday,
    SeverityFactor,
    TruckDepot,
    TruckWeekday,
)
from inspections.models import (
    DefectState,
    JobKind,
    JobOutcome,
    OffPlanCause,
    OffPlanKind,
    OffPlanReason,
    PartTakenBack,
    StockCount,
    Tick,
    VisitJob,
    VisitState,
)
from tests import announced_factories as announced
from tests import catalogue_factories as catalogue
from tests import cost_factories as of_costs
from tests import desk_factories as at_desk
from tests import factories as make
from tests import machine_factories as from_systems
from tests import schedule_factories as of_plans
from tests import stock_factories as of_stock
from tests import truck_factories as at_truck
from tests.source import APPS

BEGUN, BEFORE = date(2026, 3, 2), date(2026, 3, 1)


def altered(row: Model, **changes: Any) -> Model:
    """A row with values that it must not have."""
    for name, value in changes.items():
        setattr(row, name, value)
    return row


def copied(row: Model, **changes: Any) -> Model:
    """A second row beside a first one, not yet saved."""
    row.pk = None
    row._state.adding = True
    return altered(row, **changes)


def saved(row: Model) -> Model:
    row.save()
    return row


def depot() -> Model:
    return make.make_depot()


def door_model() -> Model:
    return make.make_door_model()


def truck() -> Model:
    return make.make_truck()


def stay() -> Model:
    home = make.make_truck()
    return saved(TruckDepot(truck=home, depot=home.depot, from_on=BEGUN))


def lay_up() -> Model:
    return saved(LayUp(truck=make.make_truck(), from_on=BEGUN))


def mounting(**ends: Any) -> Model:
    return make.make_mounting(
        door=make.make_loose_door(), truck=make.make_truck(), mounted_on=BEGUN, **ends
    )


def counter(**ends: Any) -> Model:
    return make.make_counter(door=make.make_loose_door(), fitted_on=BEGUN, **ends)


def part() -> Model:
    return make.make_part()


def fitment(**life: Any) -> Model:
    return make.make_fitment(
        door=make.make_loose_door(), component=make.component("spring"), **life
    )


def task() -> Model:
    return make.task("LUB")


def reading() -> Model:
    return make.make_reading(door=make.make_loose_door(), counter_value=10)


def fault() -> Model:
    return make.make_fault(door=make.make_loose_door())


def part_used() -> Model:
    return make.make_part_used(door=make.make_loose_door(), part=make.make_part())


def taken_back(**facts: Any) -> PartTakenBack:
    door = make.make_loose_door()
    stay = make.make_fitment(door=door, component=make.component("spring"))
    facts = {"door": door, "fitment": stay, "reason": "slip", "entered_at": make.NOW} | facts
    return PartTakenBack(**facts)


def stock_count() -> Model:
    return make.make_stock_count(depot=make.make_depot(), part=make.make_part())


def forecast_score(**links: Any) -> Model:
    check = saved(filled(ForecastCheck))
    counts = {"forecasts": 10, "inside": 8, "error": 3.0, "naive_error": 4.0}
    return saved(
        ForecastScore(forecast_check=check, kind="demand", depot=depot(), **counts, **links)
    )


def computation(**states: Any) -> Model:
    Computation.objects.all().delete()
    return saved(filled(Computation, **states))


PLAIN: dict[type[models.Field], Any] = {  # type: ignore[type-arg]
    models.BooleanField: False,
    models.CharField: "x",
    models.DateField: BEGUN,
    models.DateTimeField: make.NOW,
    models.ForeignKey: None,
    models.JSONField: {},
}


def filled(model: type[Model], **links: Any) -> Model:
    """A row of a derived table, with something plain in each column that must be filled."""
    values = {
        field.name: PLAIN.get(type(field), 0)
        for field in model._meta.concrete_fields
        if not field.null and not field.primary_key and field.default is NOT_PROVIDED
    }
    return model(**values | links)


def derived(model: type[Model], **links: Callable[[], Any]) -> Callable[[], Model]:
    """A second row of one generation for what may have one row only."""

    def second() -> Model:
        made = {name: build() for name, build in links.items()}
        return copied(saved(filled(model, generation=computation(), **made)))

    return second


def visit(**facts: Any) -> Model:
    return at_truck.make_visit(door=make.make_door(), **facts)


def depot_weekday() -> Model:
    return saved(DepotWeekday(depot=depot(), weekday=0))


def truck_weekday() -> Model:
    return saved(TruckWeekday(truck=truck(), weekday=0))


def person_weekday() -> Model:
    return saved(PersonWeekday(person=make.make_user(), depot=depot(), weekday=0, hours=8))


def off_plan_reason() -> Model:
    return saved(
        OffPlanReason(
            visit=visit(), kind=OffPlanKind.LATE, cause=OffPlanCause.PARTS, entered_at=make.NOW
        )
    )


def proposed_visit() -> Model:
    run = saved(filled(PlanRun))
    plan = saved(filled(Proposal, run=run, depot=depot()))
    return saved(ProposedVisit(proposal=plan, door=make.make_loose_door(), night_on=BEGUN))


def task_job() -> Model:
    return saved(VisitJob(visit=visit(), kind=JobKind.TASK, task=task()))


def job(kind: JobKind, **target: Any) -> Model:
    return copied(saved(VisitJob(visit=visit(), kind=kind, **target)))


def _its_own_alternate(row: Any) -> Model:
    return altered(row, alternate=row.part)


def _to_where_it_is(row: Any) -> Model:
    return altered(row, to_place=row.from_place)


def _count_of_a_van() -> Model:
    van = of_stock.make_van(depot=make.make_depot())
    return saved(
        StockCount(
            depot=van.depot,
            place=van,
            part=make.make_part(),
            counted_at=make.NOW,
            entered_at=make.NOW,
            on_hand=1,
        )
    )


PLANS: dict[str, Callable[[], Model]] = {
    "depot_weekday_once": lambda: copied(depot_weekday()),
    "depot_weekday_hours_not_negative": lambda: altered(depot_weekday(), bay_hours=-1),
    "depot_weekday_window_has_two_ends": lambda: altered(depot_weekday(), home_from=time(18)),
    "truck_weekday_once": lambda: copied(truck_weekday()),
    "truck_weekday_window_has_two_ends": lambda: altered(truck_weekday(), home_until=time(5)),
    "person_weekday_once": lambda: copied(person_weekday()),
    "person_weekday_hours_0_to_24": lambda: altered(person_weekday(), hours=0),
    "closed_day_once": lambda: copied(saved(ClosedDay(depot=depot(), closed_on=BEGUN))),
    "visit_dropped_says_why": lambda: altered(visit(), state=VisitState.DROPPED),
    "night_choice_one_on_a_door": lambda: copied(of_plans.make_choice()),
    "night_choice_ends_after_start": lambda: altered(
        of_plans.make_choice(), withdrawn_at=make.NOW - timedelta(days=1)
    ),
    "plan_ends_after_start": lambda: altered(of_plans.make_acceptance(), last_on=BEFORE),
    "plan_undone_after_accepted": lambda: altered(
        of_plans.make_acceptance(), undone_at=make.NOW - timedelta(days=1)
    ),
    "plan_step_has_its_visits": lambda: altered(of_plans.make_step(), after=None),
    "off_plan_one_reason_in_force": lambda: copied(off_plan_reason()),
    "off_plan_other_says_what": lambda: altered(off_plan_reason(), cause=OffPlanCause.OTHER),
    "plan_run_done_within_depots": lambda: filled(PlanRun, depots=1, depots_done=2),
    "proposed_visit_once_a_night": lambda: copied(proposed_visit()),
}
RETENTION: dict[str, Callable[[], Model]] = {
    "letting_go_in_time": lambda: altered(at_truck.make_letting_go(), gone_on=BEFORE),
}
WHAT_WORK_COSTS: dict[str, Callable[[], Model]] = {
    "visit_minutes_within_two_days": lambda: altered(of_costs.make_minutes(), minutes=0),
    "visit_minutes_one_in_force": lambda: copied(of_costs.make_minutes()),
    "labour_rate_not_negative": lambda: altered(of_costs.make_rate(), per_hour=-1),
    "labour_rate_has_a_currency": lambda: altered(of_costs.make_rate(), currency=""),
    "labour_rate_one_a_day": lambda: copied(of_costs.make_rate()),
    "outside_invoice_reversal_is_below_zero": lambda: altered(of_costs.make_invoice(), amount=-400),
    "outside_invoice_says_whose_and_what": lambda: altered(of_costs.make_invoice(), what_for=""),
    "outside_invoice_reversal_says_why": lambda: altered(
        of_costs.make_invoice(), amount=-400, is_reversal=True
    ),
    "outside_invoice_entered_once": lambda: copied(of_costs.make_invoice()),
}
AT_THE_TRUCK: dict[str, Callable[[], Model]] = {
    "visit_one_open_on_door": lambda: copied(
        visit(state=VisitState.OPEN, started_at=make.NOW), planned_on=BEFORE
    ),
    "visit_planned_once_a_day": lambda: copied(visit()),
    "visit_closed_is_signed": lambda: altered(
        visit(started_at=make.NOW), state=VisitState.CLOSED, closed_at=make.NOW
    ),
    "visit_open_has_started": lambda: altered(visit(), state=VisitState.OPEN),
    "visit_ends_after_start": lambda: altered(
        visit(started_at=make.NOW), closed_at=make.NOW - timedelta(days=1)
    ),
    "visit_not_presented_says_why": lambda: altered(visit(), state=VisitState.NOT_PRESENTED),
    "visit_job_has_its_one_target": lambda: altered(task_job(), kind=JobKind.FAULT),
    "visit_job_not_done_says_why": lambda: altered(task_job(), outcome=JobOutcome.NOT_DONE),
    "visit_job_done_has_its_moment": lambda: altered(task_job(), outcome=JobOutcome.DONE),
    "visit_task_once": lambda: copied(task_job()),
    "visit_fault_once": lambda: job(JobKind.FAULT, fault=fault()),
    "visit_follow_up_once": lambda: job(JobKind.FOLLOW_UP, follow_up=at_truck.make_follow_up()),
    "visit_defect_once": lambda: job(JobKind.DEFECT, defect_report=at_truck.make_defect_report()),
    "visit_handover_to_another": at_truck.handover_to_oneself,
    "safety_tick_once": lambda: copied(at_truck.make_tick(tick=Tick.CHOCKS)),
    "safety_tick_never_skipped": lambda: altered(
        at_truck.make_tick(tick=Tick.ISOLATION), skipped_reason="in a hurry"
    ),
    "inspection_entered_once": lambda: copied(
        at_truck.make_inspection(entered_by=make.make_user())
    ),
    "measurement_once_an_inspection": lambda: copied(
        at_truck.make_measurement(inspection=at_truck.make_inspection()), value=12.0
    ),
    "measurement_near_not_below_lower_limit": lambda: altered(
        at_truck.make_measurement(), limit_low=12.2, near_low=12.1
    ),
    "measurement_near_not_above_upper_limit": lambda: altered(
        at_truck.make_measurement(), limit_high=14.0, near_high=14.1
    ),
    "measurement_judgement_known": lambda: altered(
        at_truck.make_measurement(), judgement="perhaps"
    ),
    "follow_up_one_open_for_a_task": lambda: copied(at_truck.make_follow_up()),
    "follow_up_closed_by_work_or_reason": lambda: altered(
        at_truck.make_follow_up(), closed_at=make.NOW
    ),
    "follow_up_ends_after_start": lambda: altered(
        at_truck.make_follow_up(), closed_at=make.NOW - timedelta(days=1), closing_reason="x"
    ),
    "fault_trace_one_open_for_a_symptom": lambda: copied(at_truck.make_trace()),
    "fault_trace_ends_after_start": lambda: altered(
        at_truck.make_trace(), closed_at=make.NOW - timedelta(days=1)
    ),
    "trace_answer_in_order": lambda: copied(at_truck.make_answer()),
    "defect_report_has_a_name": lambda: altered(at_truck.make_defect_report(), reporter=""),
    "defect_unnecessary_says_why": lambda: altered(
        at_truck.make_defect_step(), kind=DefectState.UNNECESSARY
    ),
    "defect_step_has_a_name": lambda: altered(at_truck.make_defect_step(), name=""),
    "road_hold_one_for_a_reason": lambda: copied(at_truck.make_hold()),
    "road_hold_lifted_is_signed": lambda: altered(at_truck.make_hold(), lifted_at=make.NOW),
    "road_hold_ends_after_start": lambda: altered(
        at_truck.make_hold(),
        lifted_at=make.NOW - timedelta(days=1),
        lifted_by=make.make_user(),
        signed_by="Kim",
        what_was_done="New spring",
    ),
    "repair_one_in_force": lambda: copied(at_truck.make_repair()),
    "spring_word_ends_after_start": lambda: altered(
        at_truck.make_spring_word(person=make.make_user()), until_on=date(2020, 1, 1)
    ),
    "attachment_shows_one_thing": lambda: altered(
        at_truck.make_attachment(), visit=at_truck.make_visit(door=make.make_door())
    ),
    "attachment_withdrawn_says_why": lambda: altered(
        at_truck.make_attachment(), withdrawn_at=make.NOW
    ),
    "cause_share_one_in_force": lambda: copied(at_truck.make_cause_share()),
    "cause_share_is_a_part": lambda: altered(at_truck.make_cause_share(), percent=100.0),
    "one_off_check_of_a_model_or_a_part": lambda: altered(
        at_desk.make_check(), part=make.make_part()
    ),
    "one_off_check_closed_says_why": lambda: altered(at_desk.make_check(), closed_at=make.NOW),
    "one_off_check_ends_after_start": lambda: altered(
        at_desk.make_check(), closed_at=make.NOW - timedelta(days=3), why_closed="had it"
    ),
    "one_off_look_one_in_force": lambda: copied(at_desk.make_look()),
    "one_off_look_finding_is_told": lambda: altered(at_desk.make_look(), is_as_it_should_be=False),
    "announced_trucks_are_told": lambda: altered(announced.make_new_trucks(), doors=0),
    "announced_use_has_factor": lambda: altered(announced.make_other_use(), factor=5.1),
    "announced_campaign_is_told": lambda: altered(announced.make_campaign(), until_on=None),
    "announced_ends_after_start": lambda: altered(
        announced.make_campaign(), until_on=make.NOW.date() - timedelta(days=1)
    ),
    "announced_cancelled_says_why": lambda: altered(
        announced.make_other_use(), cancelled_at=make.NOW
    ),
    "fuse_position_once": lambda: copied(make.make_fuse_position()),
    "fuse_position_is_told": lambda: altered(make.make_fuse_position(), amps=0),
    "visit_feed_is_for_somebody": lambda: altered(at_desk.make_calendar().feed, label=""),
    "visit_feed_ends_after_start": lambda: altered(
        at_desk.make_calendar().feed, ended_at=make.NOW - timedelta(days=9)
    ),
    "machine_entry_taken_once": lambda: copied(from_systems.make_machine_entry()),
    "machine_token_may_do_something": lambda: altered(
        from_systems.make_token().token, may_read=False, may_post_readings=False
    ),
    "machine_token_taken_back_after_issue": lambda: altered(
        from_systems.make_token().token, revoked_at=make.NOW - timedelta(days=2)
    ),
    "device_entry_refused_says_why": lambda: altered(
        at_truck.make_device_entry(), outcome="refused"
    ),
    "phone_pin_has_its_hash": lambda: altered(at_truck.make_phone_pin(), pin_hash=""),
}
STOCK: dict[str, Callable[[], Model]] = {
    "part_alternate_once": lambda: copied(of_stock.make_alternate()),
    "part_alternate_is_another": lambda: _its_own_alternate(of_stock.make_alternate()),
    "part_kit_part_once": lambda: copied(of_stock.make_kit_line()),
    "part_kit_at_least_one": lambda: altered(of_stock.make_kit_line(), quantity=0),
    "stock_place_one_shelf_a_depot": lambda: copied(of_stock.shelf_of(make.make_depot())),
    "stock_place_van_once": lambda: copied(of_stock.make_van(depot=make.make_depot())),
    "stock_place_van_has_name": lambda: altered(
        of_stock.make_van(depot=make.make_depot()), name=""
    ),
    "stock_lot_once": lambda: copied(of_stock.make_lot(part=make.make_part())),
    "stock_lot_made_before_use_by": lambda: altered(
        of_stock.make_lot(part=make.make_part()), made_on=BEGUN, use_by_on=BEFORE
    ),
    "stock_one_count_in_force_at_place": lambda: copied(_count_of_a_van(), on_hand=5),
    "stock_balance_once": lambda: copied(of_stock.make_balance()),
    "stock_balance_below_zero_is_flagged": lambda: altered(of_stock.make_balance(), on_hand=-1),
    "stock_movement_in_order": lambda: copied(of_stock.make_movement()),
    "stock_movement_moves_something": lambda: copied(
        of_stock.make_movement(), sequence=2, quantity=0
    ),
    "stock_movement_below_zero_is_flagged": lambda: copied(
        of_stock.make_movement(), sequence=2, balance_after=-1
    ),
    "stock_movement_says_why": lambda: copied(
        of_stock.make_movement(), sequence=2, kind="write_off"
    ),
    "stock_movement_count_has_its_count": lambda: copied(
        of_stock.make_movement(), sequence=2, kind="count"
    ),
    "transfer_at_least_one": lambda: altered(of_stock.make_transfer(), quantity=0),
    "transfer_goes_elsewhere": lambda: _to_where_it_is(of_stock.make_transfer()),
    "transfer_ended_says_how_many": lambda: altered(of_stock.make_transfer(), ended_at=make.NOW),
    "transfer_arrives_at_most_what_left": lambda: altered(
        of_stock.make_transfer(), ended_at=make.NOW, arrived=4, shortfall_reason="x"
    ),
    "transfer_shortfall_says_why": lambda: altered(
        of_stock.make_transfer(), ended_at=make.NOW, arrived=2
    ),
    "transfer_arrives_after_it_left": lambda: altered(
        of_stock.make_transfer(), ended_at=make.NOW - timedelta(days=1), arrived=3
    ),
    "reservation_at_least_one": lambda: altered(of_stock.make_reservation(), quantity=0),
    "reservation_is_for_something": lambda: altered(of_stock.make_reservation(), visit=None),
    "reservation_once_a_visit": lambda: copied(of_stock.make_reservation()),
    "reservation_once_a_trace": lambda: copied(
        of_stock.make_reservation(visit=None, trace=at_truck.make_trace())
    ),
    "reservation_given_free_says_why": lambda: altered(
        of_stock.make_reservation(), ended_at=make.NOW
    ),
    "reservation_ends_after_start": lambda: altered(
        of_stock.make_reservation(), ended_at=make.NOW - timedelta(days=1), reason="x"
    ),
    "supplier_price_once_a_day": lambda: copied(of_stock.make_price()),
    "supplier_price_not_negative": lambda: altered(of_stock.make_price(), unit_price=-1),
    "supplier_price_pack_at_least_one": lambda: altered(of_stock.make_price(), pack_size=0),
    "supplier_price_minimum_at_least_one": lambda: altered(
        of_stock.make_price(), minimum_quantity=0
    ),
    "supplier_price_lead_not_negative": lambda: altered(
        of_stock.make_price(), quoted_lead_days=-1.0
    ),
    "supplier_price_ends_after_start": lambda: altered(
        of_stock.make_price(valid_from=BEGUN), valid_until=BEFORE
    ),
    "order_placed_has_its_moment": lambda: altered(of_stock.make_order(), state="placed"),
    "order_called_off_says_why": lambda: altered(
        of_stock.make_order(), state="called_off", ended_at=make.NOW
    ),
    "order_ended_has_its_moment": lambda: altered(of_stock.make_order(), ended_at=make.NOW),
    "order_line_part_once": lambda: copied(of_stock.make_line()),
    "order_line_at_least_one": lambda: altered(of_stock.make_line(), quantity=0),
    "order_line_receives_at_most_what_was_ordered": lambda: altered(
        of_stock.make_line(), received=6
    ),
    "order_line_price_not_negative": lambda: altered(of_stock.make_line(), unit_price=-1),
    "order_line_called_off_says_why": lambda: altered(of_stock.make_line(), called_off=1),
    "order_step_called_off_says_why": lambda: altered(
        of_stock.make_step(), kind="called_off", pieces=1
    ),
    "order_step_new_day_names_it": lambda: altered(of_stock.make_step(), kind="new_day"),
    "receipt_at_least_one": lambda: altered(of_stock.make_receipt(), quantity=0),
    "receipt_sets_aside_at_most_what_came": lambda: altered(of_stock.make_receipt(), damaged=2),
    "receipt_taken_back_says_why": lambda: altered(of_stock.make_receipt(), taken_back_at=make.NOW),
    "order_charge_taken_back_says_why": lambda: altered(of_stock.make_charge(), amount=-1),
    "claim_at_least_one": lambda: altered(of_stock.make_claim(), quantity=0),
    "claim_says_what_is_wrong": lambda: altered(of_stock.make_claim(), what_is_wrong=""),
    "claim_step_says_why": lambda: altered(of_stock.make_claim_step(), kind="refused"),
    "claim_step_credit_has_an_amount": lambda: altered(of_stock.make_claim_step(), kind="credited"),
}
REFUSED: dict[str, Callable[[], Model]] = {
    **AT_THE_TRUCK,
    **RETENTION,
    **WHAT_WORK_COSTS,
    **STOCK,
    "task_kit_part_once": lambda: copied(catalogue.make_kit()),
    "task_kit_at_least_one": lambda: altered(catalogue.make_kit(), quantity=0),
    "task_change_says_why": lambda: altered(catalogue.make_change(), reason=""),
    **PLANS,
    "depot_bay_hours_not_negative": lambda: altered(depot(), bay_hours_per_day=-1),
    "door_model_counts_per_cycle_one_or_two": lambda: altered(door_model(), counts_per_cycle=3),
    "door_model_counter_digits_3_to_9": lambda: altered(door_model(), counter_digits=2),
    "door_model_drive_band_ordered": lambda: altered(door_model(), drive_volts_low=32.5),
    "truck_disposed_after_in_service": lambda: altered(
        truck(), in_service_on=BEGUN, disposed_on=BEFORE
    ),
    "truck_stay_unique": lambda: copied(stay()),
    "truck_stay_ends_after_start": lambda: altered(stay(), until_on=BEFORE),
    "lay_up_unique": lambda: copied(lay_up()),
    "lay_up_ends_after_start": lambda: altered(lay_up(), until_on=BEFORE),
    "door_retired_after_record_began": lambda: altered(
        make.make_loose_door(), record_from=BEGUN, retired_on=BEFORE
    ),
    "mounting_unique": lambda: copied(mounting(removed_on=BEGUN), truck=truck()),
    "door_on_one_truck": lambda: copied(mounting(), truck=truck(), mounted_on=BEFORE),
    "truck_has_one_door": lambda: copied(mounting(), door=make.make_loose_door()),
    "mounting_ends_after_start": lambda: altered(mounting(), removed_on=BEFORE),
    "counter_unique": lambda: copied(counter(removed_on=BEGUN), fitted_on=BEGUN),
    "door_has_one_counter": lambda: copied(counter(), serial="another"),
    "counter_ends_after_start": lambda: altered(counter(), removed_on=BEFORE),
    "counter_counts_per_cycle_one_or_two": lambda: altered(counter(), counts_per_cycle=3),
    "counter_digits_3_to_9": lambda: altered(counter(), digits=10),
    "part_cost_not_negative": lambda: altered(part(), unit_cost=-1),
    "part_lead_time_not_negative": lambda: altered(part(), lead_time_days=-0.5),
    "part_lead_time_spread_not_negative": lambda: altered(part(), lead_time_sd_days=-0.5),
    "part_pack_at_least_one": lambda: altered(part(), pack_size=0),
    "position_holds_one_part": lambda: copied(fitment(), fitted_at_cycles=50),
    "fitment_ends_after_start": lambda: altered(
        fitment(fitted_at_cycles=100), removed_at_cycles=99, removal="failed"
    ),
    "fitment_observed_after_fitted": lambda: altered(
        fitment(fitted_at_cycles=100), observed_from_cycles=99
    ),
    "fitment_removal_known": lambda: altered(fitment(), removal="lost"),
    "task_interval_cycles_at_least_one": lambda: altered(task(), interval_cycles=0),
    "task_interval_days_at_least_one": lambda: altered(task(), interval_days=0),
    "task_window_within_interval": lambda: altered(task(), window_before_percent=51),
    "severity_factor_unique": lambda: copied(SeverityFactor.objects.all()[0]),
    "severity_factor_0_to_2": lambda: altered(SeverityFactor.objects.all()[0], factor=0.0),
    "reading_one_in_force": lambda: copied(reading(), counter_value=11),
    "reading_corrected_after_entry": lambda: altered(
        reading(), superseded_at=make.NOW - timedelta(days=1)
    ),
    "fault_off_road_ends_after_start": lambda: altered(
        fault(), off_road_from=make.NOW, off_road_until=make.NOW - timedelta(days=1)
    ),
    "part_used_at_least_one": lambda: altered(part_used(), quantity=0),
    "part_used_taken_back_is_not_in_force": lambda: altered(
        part_used(), taken_back_because="the old one went back in"
    ),
    "part_taken_back_names_what": lambda: taken_back(fitment=None),
    "part_taken_back_restores_for_a_stay": lambda: taken_back(
        fitment=None, used=part_used(), restored=fitment()
    ),
    "part_taken_back_says_why": lambda: taken_back(reason=""),
    "stock_one_count_in_force": lambda: copied(stock_count(), on_hand=5),
    "stock_service_level_0_5_to_1": lambda: altered(stock_count(), service_level=1.0),
    "computation_one_current": lambda: copied(
        computation(is_current=True, finished_at=make.NOW), started_at=make.NOW
    ),
    "computation_slice_unique": lambda: copied(
        saved(filled(ComputationSlice, generation=computation(), doors=[[1, 1]]))
    ),
    "computation_current_is_finished": lambda: altered(computation(), is_current=True),
    "component_life_unique": derived(ComponentLife, component=lambda: make.component("spring")),
    "life_evidence_unique": derived(LifeEvidence, component=lambda: make.component("spring")),
    "check_evidence_unique": derived(CheckEvidence, component=lambda: make.component("spring")),
    "period_use_unique": derived(PeriodUse, depot=depot),
    "period_use_unique_without_depot": derived(PeriodUse),
    "reliability_sums_unique": derived(ReliabilitySums, component=lambda: make.component("spring")),
    "reliability_sums_unique_without_component": derived(ReliabilitySums),
    "door_failure_unique": derived(DoorFailure, fault=fault, door=make.make_loose_door),
    "door_figures_unique": derived(DoorFigures, door=make.make_loose_door),
    "due_task_unique": derived(DueTask, door=make.make_loose_door, task=task),
    "part_outlook_unique": derived(PartOutlook, part=part, depot=depot),
    "suspect_reading_unique": derived(SuspectReading, reading=reading, door=make.make_loose_door),
    "forecast_check_done_within_origins": lambda: filled(ForecastCheck, origins=2, origins_done=3),
    "forecast_score_unique": lambda: copied(forecast_score(part=part())),
    "forecast_score_unique_without_part": lambda: copied(forecast_score()),
    "forecast_score_inside_within_forecasts": lambda: altered(forecast_score(), inside=11),
}
CONSTRAINTS = {
    constraint.name: constraint
    for label in APPS
    for model in apps.get_app_config(label).get_models()
    for constraint in model._meta.constraints
}


def test_every_constraint_has_a_row_that_it_refuses() -> None:
    assert sorted(REFUSED) == sorted(CONSTRAINTS)


@pytest.mark.django_db
@pytest.mark.parametrize("name", REFUSED)
def test_the_database_refuses_what_a_constraint_forbids(name: str) -> None:
    row = REFUSED[name]()
    constraint = CONSTRAINTS[name]
    with pytest.raises(ValidationError):
        constraint.validate(type(row), row)
    # No other constraint stands in for this one.
    for other in type(row)._meta.constraints:
        if other is not constraint:
            other.validate(type(row), row)
    with pytest.raises(IntegrityError), transaction.atomic():
        row.save()
