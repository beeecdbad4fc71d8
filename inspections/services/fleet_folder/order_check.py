"""Whether orders and deliveries of a folder agree, and what deliveries do to orders on record."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

from django.db.models import Sum
from django.utils.translation import gettext as _

from inspections.models import OrderLine, OrderReceipt
from inspections.services.fleet_folder.errors import Problems
from inspections.services.fleet_folder.linked_plan import LinkedPlan
from inspections.services.fleet_folder.order_tables import ORDER_LINES, RECEIPTS
from inspections.services.fleet_folder.sheets import Sheet
from inspections.services.order_state import settle_state


def check_orders(sheets: Mapping[str, Sheet], problems: Problems) -> None:
    """Note lines whose deliveries are of another part, or come to another number of pieces."""
    lines, deliveries = sheets[ORDER_LINES.name], sheets[RECEIPTS.name]
    parts = {row["row"]: row["part"] for _number, row in lines.rows()}
    came: Counter[int] = Counter()
    for number, row in deliveries.rows():
        line = row["line"]
        if line in parts and parts[line] != row["part"]:
            words = _("the line that this came for is of %(part)s") % {"part": parts[line]}
            problems.add(deliveries.file, words, row=number, column="part", value=row["part"])
        if line is not None and row["taken_back_at"] is None:
            came[line] += row["quantity"]
    for number, row in lines.rows():
        if came[row["row"]] != row["received"]:
            words = _("the deliveries of this line come to %(pieces)d") % {
                "pieces": came[row["row"]]
            }
            problems.add(lines.file, words, row=number, column="received", value=row["received"])


def settle_orders_on_record(plans: Sequence[LinkedPlan]) -> None:
    """Lines that stood on record before have received what new deliveries brought."""
    by_name = {plan.table.name: plan for plan in plans}
    there, deliveries = by_name[ORDER_LINES.name].there, by_name[RECEIPTS.name].new.values()
    marks = {row["line"] for row in deliveries} & there.keys()
    lines = OrderLine.objects.filter(pk__in={there[mark] for mark in marks})
    for line in lines.select_related("order").order_by("pk"):
        came = OrderReceipt.objects.in_force().filter(line=line).aggregate(n=Sum("quantity"))["n"]
        if line.received == (came or 0):
            continue
        line.received = came or 0
        line.save(update_fields=("received",))
        last = line.receipts.order_by("received_at").last()
        if last is not None:
            settle_state(line.order, last.received_at)
