"""What stands on a scale and can be forgotten."""

import django.db.models.deletion
import django.db.models.manager
from django.db import migrations, models

from curehouse.common.guards import InstallGuards


class Migration(migrations.Migration):

    dependencies = [
        ('workshops', '0002_guards'),
    ]

    operations = [
        migrations.CreateModel(
            name='ScaleTare',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=80)),
                ('weight_g', models.DecimalField(decimal_places=3, max_digits=9)),
                ('retired_at', models.DateTimeField(null=True)),
                ('scale', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='tares', to='workshops.scale')),
                ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
            ],
            options={
                'verbose_name': 'tare',
                'constraints': [models.UniqueConstraint(condition=models.Q(('retired_at__isnull', True)), fields=('scale', 'name'), name='scaletare_name_once', violation_error_code='name_taken'), models.CheckConstraint(condition=models.Q(('weight_g__gt', 0)), name='scaletare_weight_positive', violation_error_code='not_positive')],
            },
            managers=[
                ('unscoped', django.db.models.manager.Manager()),
            ],
        ),
        InstallGuards(ledgers=[], others=["ScaleTare"]),
    ]
