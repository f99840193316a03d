"""Of cures that ended before their last weighing was foretold an older record was kept: each is read once more."""

from typing import Any

from django.db import migrations
from django.db.models import F


def read_once_more(apps: Any, schema_editor: Any) -> None:
    """Let the next night read anew what is known of every cure that ended."""
    ended = apps.get_model("curing", "Cure")._base_manager.filter(ended_at__isnull=False, last_reading__isnull=False)
    ended.update(forecast_wanted_at=F("ended_at"))


class Migration(migrations.Migration):
    dependencies = [
        ("curing", "0006_rooms"),
    ]

    operations = [
        migrations.RunPython(read_once_more, migrations.RunPython.noop),
    ]
