"""A row that came in notes the movements that it was booked as: taken back, it may come in again."""

from django.db import migrations, models

from curehouse.common.guards import GuardsAside


class Migration(migrations.Migration):

    dependencies = [
        ('intake', '0001_squashed_0003_random_names'),
    ]

    operations = [
        GuardsAside(
            [
                migrations.AddField(
                    model_name='broughtrow',
                    name='booked',
                    field=models.JSONField(help_text='Keys of the movements it came in as; null where nobody noted them.', null=True),
                ),
            ]
        ),
    ]
