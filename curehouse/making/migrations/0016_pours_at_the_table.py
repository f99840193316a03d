import django.db.models.deletion
import django.db.models.manager
from django.conf import settings
from django.db import migrations, models

from curehouse.common.guards import InstallGuards


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0013_blends'),
        ('making', '0015_lye_dissolved_beforehand'),
        ('workshops', '0015_waiting_costs'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='Pour',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('state', models.CharField(choices=[('open', 'under way'), ('finished', 'finished'), ('stopped', 'stopped')], default='open', max_length=10)),
                ('fats_g', models.DecimalField(decimal_places=3, help_text='The oils it is meant to have, in grams.', max_digits=10)),
                ('sheet', models.JSONField(help_text='What is to be weighed, as worked out when it was begun; see making/pouring/sheet.py.')),
                ('begun_at', models.DateTimeField()),
                ('ended_at', models.DateTimeField(null=True)),
                ('batch', models.OneToOneField(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='pour', to='making.batch')),
                ('by_device', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.devicetoken')),
                ('by_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('run', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='pours', to='making.run')),
                ('version', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='pours', to='making.formulaversion')),
                ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
            ],
            managers=[
                ('unscoped', django.db.models.manager.Manager()),
            ],
        ),
        migrations.CreateModel(
            name='PourStep',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('client_id', models.UUIDField()),
                ('kind', models.CharField(choices=[('caution', 'cautions read'), ('weighed', 'weighed'), ('dissolved', 'lye dissolved'), ('lye_temp', 'temperature of the lye'), ('fats_temp', 'temperature of the fats'), ('trace', 'at trace'), ('stirred', 'stirred in at trace'), ('mould', 'in the mould'), ('place', 'put aside'), ('deviation', 'deviation'), ('note', 'note'), ('doubt', 'doubt'), ('unsaid', 'said by mistake'), ('finished', 'finished'), ('stopped', 'stopped')], max_length=10)),
                ('slot', models.CharField(blank=True, help_text='Of a weighing: which line of the sheet.', max_length=10)),
                ('target_g', models.DecimalField(decimal_places=3, max_digits=13, null=True)),
                ('amount_g', models.DecimalField(decimal_places=3, max_digits=13, null=True)),
                ('step_g', models.DecimalField(decimal_places=12, max_digits=15, null=True)),
                ('celsius', models.DecimalField(decimal_places=1, max_digits=4, null=True)),
                ('words', models.CharField(blank=True, max_length=400)),
                ('stands', models.BooleanField(default=False)),
                ('at', models.DateTimeField()),
                ('by_device', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.devicetoken')),
                ('by_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('corrects', models.OneToOneField(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='corrected_by', to='making.pourstep')),
                ('lot', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inventory.lot')),
                ('pour', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='steps', to='making.pour')),
                ('scale', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.scale')),
                ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
            ],
            managers=[
                ('unscoped', django.db.models.manager.Manager()),
            ],
        ),
        migrations.AddIndex(
            model_name='pour',
            index=models.Index(condition=models.Q(('state', 'open')), fields=['workshop', 'id'], name='pour_under_way'),
        ),
        migrations.AddConstraint(
            model_name='pour',
            constraint=models.UniqueConstraint(condition=models.Q(('state', 'open')), fields=('run',), name='pour_one_open_of_a_run', violation_error_code='pour_open'),
        ),
        migrations.AddConstraint(
            model_name='pour',
            constraint=models.CheckConstraint(condition=models.Q(('fats_g__gt', 0)), name='pour_fats_positive', violation_error_code='not_positive'),
        ),
        migrations.AddConstraint(
            model_name='pour',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('batch__isnull', True), ('ended_at__isnull', True), ('state', 'open')), models.Q(('batch__isnull', False), ('ended_at__isnull', False), ('state', 'finished')), models.Q(('ended_at__isnull', False), ('state', 'stopped')), _connector='OR'), name='pour_state', violation_error_code='state'),
        ),
        migrations.AddConstraint(
            model_name='pourstep',
            constraint=models.UniqueConstraint(fields=('client_id', 'workshop'), name='pourstep_client_id_once', violation_error_code='sent_before'),
        ),
        migrations.AddConstraint(
            model_name='pourstep',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('amount_g__gte', 0), ('kind', 'weighed'), ('step_g__gt', 0), ('target_g__gte', 0), models.Q(('slot', ''), _negated=True)), models.Q(models.Q(('kind', 'weighed'), _negated=True), ('amount_g__isnull', True), ('lot__isnull', True), ('slot', ''), ('step_g__isnull', True), ('target_g__isnull', True)), _connector='OR'), name='pourstep_weighed', violation_error_code='mass'),
        ),
        migrations.AddConstraint(
            model_name='pourstep',
            constraint=models.CheckConstraint(condition=models.Q(('celsius__isnull', True), ('kind__in', ['lye_temp', 'fats_temp']), _connector='OR'), name='pourstep_celsius', violation_error_code='celsius'),
        ),
        migrations.AddConstraint(
            model_name='pourstep',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('kind__in', ['deviation', 'note', 'doubt', 'unsaid', 'stopped']), _negated=True), models.Q(('words', ''), _negated=True), _connector='OR'), name='pourstep_words', violation_error_code='missing'),
        ),
        migrations.AddConstraint(
            model_name='pourstep',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('kind', 'unsaid'), _negated=True), ('corrects__isnull', False), _connector='OR'), name='pourstep_unsaid_what', violation_error_code='missing'),
        ),
        InstallGuards(ledgers=["PourStep"], others=["Pour"]),
    ]
