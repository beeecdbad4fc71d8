"""Pages of a listing that may be very long."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django.core.paginator import Paginator
from django.utils.functional import cached_property
from django.utils.translation import gettext

from fleetdoors.templatetags.units import number

if TYPE_CHECKING:
    AnyPaginator = Paginator[Any]
else:
    AnyPaginator = Paginator


class ShortPaginator(AnyPaginator):
    """Pages through the first 10,000 rows: counting a million takes longer than showing fifty.

    Its rows are those of a table over a QuerySet.
    """

    MOST = 10_000

    @cached_property
    def _counted(self) -> int:
        rows: Any = self.object_list
        # Not the rows' own length: that counts all of them.
        return int(rows.data.data[: self.MOST + 1].count())

    @cached_property
    def count(self) -> int:
        """The rows that can be paged to."""
        return min(self._counted, self.MOST)

    @property
    def is_cut(self) -> bool:
        """Whether there are more rows than can be paged to."""
        return self._counted > self.MOST

    @property
    def of_how_many(self) -> str:
        """The number of rows in words."""
        if self.is_cut:
            return gettext("more than %(count)s") % {"count": number(self.MOST)}
        return number(self.count)
