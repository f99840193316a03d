"""What stock lists said that came in before it was kept: as of the moment they came in."""

from typing import Any

from django.db import migrations

_AT_ONCE = 500


def _keep_what_lists_said(apps: Any, _editor: Any) -> None:
    movement, count = apps.get_model("inventory", "Movement"), apps.get_model("inventory", "Count")
    listed = movement._base_manager.filter(
        kind="receive", source="import", corrected_by__isnull=True, lot__rulings__why="brought in with the stock list"
    )
    rows = [
        count(
            workshop_id=row.workshop_id, lot_id=row.lot_id, counted=row.amount, expected=0, moment=row.written_at,
            movement_id=row.pk, reason="as the stock list says", by_list=True, written_at=row.written_at, by_user_id=row.by_user_id,
            by_device_id=row.by_device_id,
        )
        for row in listed.order_by("pk").distinct()
    ]  # fmt: skip
    count._base_manager.bulk_create(rows, batch_size=_AT_ONCE)


class Migration(migrations.Migration):
    dependencies = [
        ("inventory", "0005_counts_that_stand"),
    ]

    operations = [
        migrations.RunPython(_keep_what_lists_said, migrations.RunPython.noop),
    ]
