"""What will run out, and when: the list, and the same rows as a CSV file."""

from __future__ import annotations

import csv
from collections.abc import Iterator

from django.http import HttpResponse, StreamingHttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import ngettext
from django_tables2 import RequestConfig

from analytics.forms.part_filter import PartFilterForm
from analytics.reports.basis import basis_at
from analytics.reports.failing_parts import failing_parts
from analytics.reports.part_list import part_outlooks, parts_summary
from analytics.reports.scope import depot_ids_of
from analytics.tables.due_sheet import Cell, formula_safe
from analytics.tables.parts import PartTable, headings, sheet_rows
from fleetdoors.access import SignedInRequest, open_to
from fleetdoors.models import Role
from fleetdoors.templatetags.units import number

ROWS_A_PAGE = 50


@open_to(Role.PLANNER, Role.BUYER)
def part_list(request: SignedInRequest) -> HttpResponse:
    """Stock, need and order of every part at every depot in sight."""
    form, depot_ids = PartFilterForm(request.GET, user=request.user), depot_ids_of(request.user)
    basis = basis_at(depot_ids, now=timezone.now())
    rows = part_outlooks(form.choice(), depot_ids, basis)
    table = PartTable(rows, today=basis.today)
    RequestConfig(request, paginate={"per_page": ROWS_A_PAGE, "silent": True}).configure(table)
    count = table.page.paginator.count
    counted = ngettext("%(n)s line", "%(n)s lines", count) % {"n": number(count)}
    context = {
        "form": form,
        "table": table,
        "summary": parts_summary(rows, basis),
        "failing": failing_parts(basis),
        "result": f"{counted}. {form.ignored()}".strip(),
        "clear_url": "" if form.is_empty else reverse("part-list"),
        "query": request.GET.urlencode(),
    }
    return render(request, "analytics/part_list.html", context)


@open_to(Role.PLANNER, Role.BUYER)
def part_csv(request: SignedInRequest) -> HttpResponseBase:
    """The rows chosen, sent as they are fetched."""
    form, depot_ids = PartFilterForm(request.GET, user=request.user), depot_ids_of(request.user)
    basis = basis_at(depot_ids, now=timezone.now())
    rows: Iterator[list[Cell]] = sheet_rows(part_outlooks(form.choice(), depot_ids, basis))
    answer = StreamingHttpResponse(_csv_lines(rows), content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="parts-{basis.today}.csv"'
    return answer


class _Line:
    """What csv writes into: it hands each line on instead of keeping it."""

    def write(self, line: str) -> str:
        return line


def _csv_lines(rows: Iterator[list[Cell]]) -> Iterator[str]:
    writer = csv.writer(_Line())
    yield "\ufeff"  # tells spreadsheet programs that the text is UTF-8
    yield writer.writerow(headings())
    for row in rows:
        yield writer.writerow([formula_safe(cell) for cell in row])
