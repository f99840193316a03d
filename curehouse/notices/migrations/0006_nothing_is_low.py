"""Notices that a material was low end: no material counts as low any more, and no mark stands for it."""

from typing import Any

from django.db import migrations
from django.utils import timezone

WHY = "What is to be ordered, and by when, is worked out each morning now: nothing counts as low any more."


def _end_what_was_low(apps: Any, _editor: Any) -> None:
    low = apps.get_model("notices", "Notice")._base_manager.filter(kind="low")
    low.filter(state="open").update(state="withdrawn", closed_why=WHY, closed_at=timezone.now())
    low.update(mark="")


class Migration(migrations.Migration):
    dependencies = [
        ("notices", "0001_squashed_0005_at_once_names_what_may_be_caustic"),
    ]

    operations = [
        migrations.RunPython(_end_what_was_low, migrations.RunPython.noop),
    ]
