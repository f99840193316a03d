import django.db.models.deletion
import django.db.models.manager
from django.db import migrations, models

from curehouse.common.guards import InstallGuards


class Migration(migrations.Migration):

    dependencies = [
        ('curing', '0001_squashed_0007_ended_cures_read_once_more'),
        ('making', '0013_what_a_run_could_not_ask_for'),
        ('workshops', '0001_squashed_0014_last_order_number'),
    ]

    operations = [
        migrations.CreateModel(
            name='ExpectedCure',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('bars', models.PositiveIntegerField()),
                ('pour_on', models.DateField(help_text='The day of the pour it was reckoned for.')),
                ('cut_on', models.DateField()),
                ('half_dry_on', models.DateField(null=True)),
                ('stays_until', models.DateField()),
                ('is_told', models.BooleanField()),
                ('written_at', models.DateTimeField()),
                ('run', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='expected_cure', to='making.run')),
                ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
            ],
            managers=[
                ('unscoped', django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name='KeptPlace',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('bars', models.PositiveIntegerField()),
                ('cure', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='places', to='curing.expectedcure')),
                ('position', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='kept', to='curing.position')),
                ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
            ],
            managers=[
                ('unscoped', django.db.models.manager.Manager()),
            ],
        ),
        migrations.AddConstraint(
            model_name='expectedcure',
            constraint=models.CheckConstraint(condition=models.Q(('bars__gt', 0)), name='expectedcure_bars', violation_error_code='not_positive'),
        ),
        migrations.AddConstraint(
            model_name='expectedcure',
            constraint=models.CheckConstraint(condition=models.Q(('cut_on__gte', models.F('pour_on')), ('stays_until__gte', models.F('cut_on'))), name='expectedcure_days', violation_error_code='day'),
        ),
        migrations.AddConstraint(
            model_name='keptplace',
            constraint=models.UniqueConstraint(fields=('cure', 'position'), name='keptplace_once', violation_error_code='place_taken'),
        ),
        migrations.AddConstraint(
            model_name='keptplace',
            constraint=models.CheckConstraint(condition=models.Q(('bars__gt', 0)), name='keptplace_bars', violation_error_code='not_positive'),
        ),
        InstallGuards(ledgers=[], others=['ExpectedCure', 'KeptPlace']),
    ]
