"""Takes the counts and the parts used of an older database into the ledger of stock."""

from collections import defaultdict

from django.db import migrations

from inspections.stock_book import Book


def take_up(apps, schema_editor):
    """Write movements for what was counted and drawn, in the order in which it was entered."""
    place_of = _Shelves(apps)
    events = defaultdict(list)
    count_model = apps.get_model("inspections", "StockCount")
    for count in count_model.objects.order_by("entered_at", "pk").iterator():
        key = (place_of(count.depot_id), count.part_id)
        events[key].append((count.entered_at, 1, count.pk, count))
    used_model = apps.get_model("inspections", "PartUsed")
    draws = used_model.objects.filter(draws_on_stock=True, depot__isnull=False)
    for used in draws.order_by("entered_at", "pk").iterator():
        key = (place_of(used.depot_id), used.part_id)
        events[key].append((used.entered_at, 0, used.pk, used))
        if used.superseded_at:
            events[key].append((used.superseded_at, 2, used.pk, used))
    movement_model = apps.get_model("inspections", "StockMovement")
    balance_model = apps.get_model("inspections", "StockBalance")
    rows, balances = [], []
    for (place, part), told in events.items():
        written, balance = _written(movement_model, place, part, told)
        rows += written
        balances.append(balance_model(place_id=place, part_id=part, **balance))
    movement_model.objects.bulk_create(rows, batch_size=500)
    balance_model.objects.bulk_create(balances, batch_size=500)


class _Shelves:
    """The shelf of each depot, made where it is wanted first."""

    def __init__(self, apps):
        self.model = apps.get_model("inspections", "StockPlace")
        self.known = {}

    def __call__(self, depot):
        if depot not in self.known:
            place, _made = self.model.objects.get_or_create(depot_id=depot, kind="shelf")
            self.known[depot] = place.pk
        return self.known[depot]


def _written(model, place, part, told):
    """The movements of one part at one place, and its balance."""
    book, rows = Book(), []
    on_hand, is_known, needs_count = 0, False, False
    for entered_at, rank, _pk, row in sorted(told, key=lambda each: each[:3]):
        if rank == 1:
            postings = book.count(
                row.on_hand, count=row.pk, counted_at=row.counted_at, entered_at=entered_at
            )
        else:
            quantity = -row.quantity if rank == 0 else row.quantity
            postings = book.move(quantity, moved_at=row.used_at, entered_at=entered_at)
        for posting in postings:
            on_hand += posting.quantity
            is_count = posting.count is not None
            rows.append(
                model(
                    place_id=place,
                    part_id=part,
                    sequence=len(rows) + 1,
                    kind="count" if is_count else ("issue" if rank == 0 else "correction"),
                    quantity=posting.quantity,
                    balance_after=on_hand,
                    is_beyond_record=on_hand < 0,
                    moved_at=posting.moved_at,
                    entered_at=posting.entered_at,
                    entered_by_id=row.entered_by_id,
                    reason="the use was corrected" if rank == 2 else "",
                    door_id=None if rank == 1 else row.door_id,
                    part_used_id=None if rank == 1 else row.pk,
                    stock_count_id=posting.count,
                )
            )
            is_known |= is_count
        needs_count = on_hand < 0 or (needs_count and rank != 1)
    balance = {
        "on_hand": on_hand,
        "movements": len(rows),
        "is_known": is_known,
        "needs_count": needs_count,
    }
    return rows, balance


class Migration(migrations.Migration):
    dependencies = [("inspections", "0006_stock_ledger")]
    operations = [migrations.RunPython(take_up, migrations.RunPython.noop)]
