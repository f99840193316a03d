from django.db import migrations, models

from curehouse.common.guards import GuardsAside


class Migration(migrations.Migration):

    dependencies = [
        ('making', '0017_no_water_for_what_sets'),
    ]

    operations = [
        GuardsAside([
            migrations.AddField(
                model_name='pourstep',
                name='is_mend',
                field=models.BooleanField(default=False, help_text='Fat that was added to make the lye safe: no lye is meant for it.'),
            ),
        ]),
    ]
