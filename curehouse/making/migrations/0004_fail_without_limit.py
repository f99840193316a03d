"""A safety check that failed is kept though no limit is written down; a pass still needs one."""

from django.db import migrations, models
from django.db.models import Q

from curehouse.common.guards import GuardsAside


class Migration(migrations.Migration):
    dependencies = [("making", "0003_batch_lye_confirmed")]

    operations = [
        GuardsAside(
            [
                migrations.RemoveConstraint(model_name="safetycheck", name="safetycheck_complete"),
                migrations.AlterField(
                    model_name="safetycheck",
                    name="limit",
                    field=models.CharField(blank=True, max_length=200),
                ),
                migrations.AddConstraint(
                    model_name="safetycheck",
                    constraint=models.CheckConstraint(
                        condition=~Q(method="") & ~Q(value="") & (~Q(limit="") | Q(passed=False)),
                        name="safetycheck_complete",
                        violation_error_code="missing",
                    ),
                ),
            ]
        ),
    ]
