"""A step in ounces has more places than a milligram's three: a tenth of an ounce is 2.8349523125 g."""

from django.db import migrations, models

from curehouse.common.guards import GuardsAside


class Migration(migrations.Migration):
    dependencies = [
        ("workshops", "0010_names_in_the_trail"),
    ]

    operations = [
        GuardsAside(
            [
                migrations.AlterField(
                    model_name="scale",
                    name="step_g",
                    field=models.DecimalField(decimal_places=12, max_digits=15),
                ),
            ]
        ),
    ]
