from curehouse.common.guards import GuardsAside
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0002_guards'),
    ]

    operations = [
        GuardsAside(
            [
                migrations.AlterField(
                    model_name='lotfile',
                    name='content_type',
                    field=models.CharField(max_length=80),
                ),
            ],
        ),
    ]
