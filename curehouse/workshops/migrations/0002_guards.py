"""Ledgers stay as written, and references stay inside one workshop, in the database itself."""

from django.db import migrations

from curehouse.common.guards import InstallGuards


class Migration(migrations.Migration):
    dependencies = [("workshops", "0001_first_rooms")]

    operations = [
        InstallGuards(
            ledgers=["ScaleCheck"],
            others=["Member", "DeviceToken", "Scale", "Submission"],
        ),
    ]
