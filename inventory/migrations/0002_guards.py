"""The stock ledgers stay as written, and references stay inside one workshop, in the database itself."""

from django.db import migrations

from curehouse.common.guards import InstallGuards


class Migration(migrations.Migration):
    dependencies = [("inventory", "0001_stock")]

    operations = [
        InstallGuards(
            ledgers=["Movement", "Count", "LotRuling", "LotCorrection", "LotValue", "LotFile"],
            others=["Material", "Supplier", "Lot"],
        ),
    ]
