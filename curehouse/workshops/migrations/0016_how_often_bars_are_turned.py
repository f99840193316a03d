"""How often bars are turned, and in which days of a cure one is reminded of it."""

from django.db import migrations, models

from curehouse.common.guards import GuardsAside


class Migration(migrations.Migration):
    dependencies = [
        ("workshops", "0015_waiting_costs"),
    ]

    operations = [
        GuardsAside(
            [
                migrations.AddField(
                    "workshop",
                    "turn_every_days",
                    models.PositiveSmallIntegerField(
                        db_default=7,
                        default=7,
                        help_text="Bars are to be turned so often; null: nobody is reminded.",
                        null=True,
                    ),
                ),
                migrations.AddField(
                    "workshop",
                    "turn_for_days",
                    models.PositiveSmallIntegerField(
                        db_default=28,
                        default=28,
                        help_text="The first days of a cure in which one is reminded to turn bars.",
                    ),
                ),
                migrations.AddConstraint(
                    model_name="workshop",
                    constraint=models.CheckConstraint(
                        condition=models.Q(
                            models.Q(
                                ("turn_every_days__isnull", True),
                                models.Q(("turn_every_days__gte", 1), ("turn_every_days__lte", 28)),
                                _connector="OR",
                            ),
                            ("turn_for_days__gte", 1),
                            ("turn_for_days__lte", 365),
                        ),
                        name="workshop_turning",
                        violation_error_code="turning",
                    ),
                ),
            ],
        ),
    ]
