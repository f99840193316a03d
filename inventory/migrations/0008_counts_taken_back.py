"""Counts without a difference can be taken back."""

import django.db.models.deletion
from django.db import migrations, models
from django.db.models import Q

from curehouse.common.guards import GuardsAside, InstallGuards


class Migration(migrations.Migration):
    dependencies = [
        ("inventory", "0007_papers_without_prices"),
    ]

    operations = [
        GuardsAside(
            [
                migrations.AddField(
                    model_name="count",
                    name="takes_back",
                    field=models.OneToOneField(
                        null=True, on_delete=django.db.models.deletion.PROTECT, related_name="taken_back_by", to="inventory.count"
                    ),
                ),
                migrations.AddConstraint(
                    model_name="count",
                    constraint=models.CheckConstraint(
                        condition=Q(takes_back__isnull=True)
                        | (Q(movement__isnull=True, for_use__isnull=True, restates__isnull=True, by_list=False) & ~Q(reason="")),
                        name="count_taken_back_says_why",
                        violation_error_code="missing",
                    ),
                ),
            ],
        ),
        InstallGuards(ledgers=["Count"], others=[]),
    ]
