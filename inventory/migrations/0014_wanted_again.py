"""What was put off may be wanted again on the same day."""

from django.db import migrations, models
from django.db.models import F, Q

from curehouse.common.guards import GuardsAside


class Migration(migrations.Migration):
    dependencies = [
        ("inventory", "0013_blends"),
    ]

    operations = [
        GuardsAside(
            [
                migrations.RemoveConstraint(model_name="putoff", name="putoff_until"),
                migrations.AddConstraint(
                    model_name="putoff",
                    constraint=models.CheckConstraint(
                        condition=Q(until__gte=F("day")), name="putoff_until", violation_error_code="day"
                    ),
                ),
            ],
        ),
    ]
