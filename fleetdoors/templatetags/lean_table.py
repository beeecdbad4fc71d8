"""Rows of a listing, written without a template per cell."""

from collections.abc import Callable
from typing import Any

from django import template
from django.utils.formats import localize
from django.utils.html import conditional_escape, format_html
from django.utils.safestring import SafeString, mark_safe
from django_tables2 import Table
from django_tables2.columns import BoundColumn
from django_tables2.rows import BoundRow
from django_tables2.utils import AttributeDict, computed_values, signature

register = template.Library()
Drawing = Callable[..., Any]


@register.simple_tag
def lean_rows(table: Table) -> SafeString:
    """All rows of the table's page.

    A cell's attributes, and what its column's renderer asks for, are worked out once per column,
    not once per cell: that is most of the time a listing takes. Row attributes may still depend on
    the record. Columns are not made links by themselves.
    """
    columns = [(column, _cell_opening(column), _drawing(column)) for column in table.columns]
    # Cells are escaped one by one in _row, so the whole is safe.
    rows = [_row(row, columns) for row in table.paginated_rows]
    return mark_safe("".join(rows))


@register.filter
def aria_sort(column: BoundColumn) -> str:
    """The word of ``aria-sort`` for a column's heading."""
    if not column.is_ordered:
        return "none"
    return "descending" if column.order_by_alias.is_descending else "ascending"


def _drawing(column: BoundColumn) -> Drawing:
    """The column's renderer, called with what its parameters name."""
    render, wanted = column.render, signature(column.render)[0]

    def draw(row: BoundRow, value: Any = None) -> Any:
        given = {
            "value": value,
            "record": row.record,
            "column": column.column,
            "bound_column": column,
            "bound_row": row,
            "table": row.table,
        }
        return render(**{name: given[name] for name in wanted})

    return draw


def _row(row: BoundRow, columns: list[tuple[BoundColumn, SafeString, Drawing]]) -> str:
    attrs = row.table.row_attrs
    computed = computed_values(attrs, {"table": row.table, "record": row.record}) if attrs else {}
    cells = "".join(
        f"{opening}{conditional_escape(localize(_cell(row, column, draw)))}</td>"
        for column, opening, draw in columns
    )
    return (
        f"<tr {AttributeDict(computed).as_html()}>{cells}</tr>" if computed else f"<tr>{cells}</tr>"
    )


def _cell(row: BoundRow, column: BoundColumn, draw: Drawing) -> Any:
    return row._get_and_render_with(column, lambda _, *value: draw(row, *value), column.default)


def _cell_opening(column: BoundColumn) -> SafeString:
    attrs = AttributeDict(column.attrs["td"])
    attrs["data-label"] = column.header
    return format_html("<td {}>", attrs.as_html())
