from django.db import migrations, models

from curehouse.common.guards import GuardsAside


class Migration(migrations.Migration):

    dependencies = [
        ('making', '0010_both_alkalis'),
    ]

    operations = [
        GuardsAside(
            [
                migrations.AddField(
                    model_name='batch',
                    name='superfat_effective_high',
                    field=models.DecimalField(decimal_places=4, max_digits=6, null=True),
                ),
                migrations.AddField(
                    model_name='batch',
                    name='superfat_effective_low',
                    field=models.DecimalField(decimal_places=4, max_digits=6, null=True),
                ),
            ],
        ),
    ]
