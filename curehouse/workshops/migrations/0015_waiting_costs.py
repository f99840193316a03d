"""What a batch that waits and the work of an order cost a workshop, where it says so itself."""

from django.db import migrations, models

from curehouse.common.guards import GuardsAside


def _money(said: str) -> models.DecimalField:
    return models.DecimalField(decimal_places=2, help_text=said, max_digits=12, null=True)


def _none_or_more(name: str) -> models.Q:
    return models.Q((f"{name}__isnull", True), (f"{name}__gte", 0), _connector="OR")


class Migration(migrations.Migration):
    dependencies = [
        ("workshops", "0001_squashed_0014_last_order_number"),
    ]

    operations = [
        GuardsAside(
            [
                migrations.AddField("workshop", "late_batch_cost", _money("A batch that waits; null: reckoned.")),
                migrations.AddField("workshop", "late_day_cost", _money("Each day of it; null: reckoned.")),
                migrations.AddField("workshop", "order_work_cost", _money("An order; null: reckoned.")),
                migrations.AddConstraint(
                    model_name="workshop",
                    constraint=models.CheckConstraint(
                        condition=models.Q(
                            _none_or_more("late_batch_cost"),
                            _none_or_more("late_day_cost"),
                            _none_or_more("order_work_cost"),
                        ),
                        name="workshop_waiting_costs",
                        violation_error_code="negative",
                    ),
                ),
            ],
        ),
    ]
