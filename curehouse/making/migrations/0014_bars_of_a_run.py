from django.conf import settings
from django.db import migrations, models

from curehouse.common.guards import GuardsAside


class Migration(migrations.Migration):

    dependencies = [
        ('making', '0013_what_a_run_could_not_ask_for'),
        ('workshops', '0001_squashed_0014_last_order_number'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        GuardsAside(
            [
                migrations.AddField(
                    model_name='run',
                    name='bars',
                    field=models.PositiveIntegerField(help_text='How many bars it is to give, as the maker says; null: as batches of its formula gave.', null=True),
                ),
                migrations.AddConstraint(
                    model_name='run',
                    constraint=models.CheckConstraint(condition=models.Q(('bars__isnull', True), ('bars__gt', 0), _connector='OR'), name='run_bars_positive', violation_error_code='not_positive'),
                ),
            ]
        ),
    ]
