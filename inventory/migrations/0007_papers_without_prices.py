"""Of each paper, whether it was said to show no prices; of those that are there nobody said so."""

from django.db import migrations, models

from curehouse.common.guards import GuardsAside


class Migration(migrations.Migration):
    dependencies = [
        ("inventory", "0006_what_lists_said"),
    ]

    operations = [
        GuardsAside(
            [
                migrations.AddField(
                    model_name="lotfile",
                    name="without_prices",
                    field=models.BooleanField(
                        default=False,
                        help_text="Whether whoever attached it said that it shows no prices; those who see no costs open no other.",
                    ),
                ),
            ],
        ),
    ]
