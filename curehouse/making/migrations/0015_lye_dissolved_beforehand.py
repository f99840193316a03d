from django.db import migrations, models

from curehouse.common.guards import GuardsAside


class Migration(migrations.Migration):
    """Runs that were planned before take their lye dry: which water is in front of them, nobody noted."""

    dependencies = [
        ('making', '0014_bars_of_a_run'),
    ]

    operations = [
        GuardsAside(
            [
                migrations.AddField(
                    model_name='reservation',
                    name='water_g',
                    field=models.DecimalField(decimal_places=3, default=0, help_text='Of lye: the water in front that may come with it, dissolved.', max_digits=13),
                ),
                migrations.AddConstraint(
                    model_name='reservation',
                    constraint=models.CheckConstraint(condition=models.Q(('water_g__gte', 0)), name='reservation_water', violation_error_code='negative'),
                ),
            ]
        ),
    ]
