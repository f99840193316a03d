"""Counts that are held against the book anew, and what stock lists say; the day of receipt can be corrected."""

import django.db.models.deletion
from django.db import migrations, models

from curehouse.common.guards import GuardsAside, InstallGuards


class Migration(migrations.Migration):
    dependencies = [
        ("inventory", "0004_random_names"),
    ]

    operations = [
        GuardsAside(
            [
                migrations.AddField(
                    model_name="count",
                    name="by_list",
                    field=models.BooleanField(default=False),
                ),
                migrations.AddField(
                    model_name="count",
                    name="restates",
                    field=models.ForeignKey(
                        null=True, on_delete=django.db.models.deletion.PROTECT, related_name="restated_by", to="inventory.count"
                    ),
                ),
                migrations.AlterField(
                    model_name="lotcorrection",
                    name="field",
                    field=models.CharField(
                        choices=[
                            ("supplier_lot", "the supplier's lot number"),
                            ("best_before", "best before"),
                            ("unit_cost", "the cost"),
                            ("received_on", "the day of receipt"),
                        ],
                        max_length=20,
                    ),
                ),
            ],
        ),
        InstallGuards(ledgers=["Count"], others=[]),
    ]
