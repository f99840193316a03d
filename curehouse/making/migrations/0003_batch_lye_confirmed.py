"""An amount of lye out of the usual is kept only once a person confirmed it."""

from django.db import migrations, models

from curehouse.common.guards import GuardsAside


class Migration(migrations.Migration):
    dependencies = [("making", "0002_guards")]

    operations = [
        GuardsAside(
            [
                migrations.AddField(
                    model_name="batch",
                    name="lye_confirmed",
                    field=models.BooleanField(
                        default=False, help_text="The lye is out of the usual, and a person said it is right."
                    ),
                ),
            ]
        ),
    ]
