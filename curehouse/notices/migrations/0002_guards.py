"""Ledgers stay as written, and references stay inside one workshop, in the database itself."""

from django.db import migrations

from curehouse.common.guards import InstallGuards


class Migration(migrations.Migration):
    dependencies = [("notices", "0001_first_rooms")]

    operations = [
        InstallGuards(
            ledgers=[],
            others=["Notice", "Delivery", "Subscription"],
        ),
    ]
