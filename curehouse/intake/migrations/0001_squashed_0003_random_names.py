import curehouse.common.fresh_tables
import curehouse.common.guards
import django.db.models.deletion
import django.db.models.manager
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    replaces = [('intake', '0001_brought_in'), ('intake', '0002_say_what_did_not_come_in'), ('intake', '0003_random_names')]

    initial = True

    dependencies = [
        ('workshops', '0004_last_lot_number'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        curehouse.common.fresh_tables.TablesAtOnce(
            models=[migrations.CreateModel(
                name='Import',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('kind', models.CharField(max_length=20)),
                    ('name', models.CharField(max_length=120)),
                    ('sha256', models.CharField(help_text='Of what it holds.', max_length=64)),
                    ('kept_as', models.CharField(help_text='Its name in the data folder; of old files, their SHA-256.', max_length=64)),
                    ('beside_name', models.CharField(blank=True, max_length=120)),
                    ('beside_sha256', models.CharField(blank=True, max_length=64)),
                    ('beside_kept_as', models.CharField(blank=True, max_length=64)),
                    ('state', models.CharField(choices=[('laid_out', 'columns to be named'), ('checking', 'being checked'), ('checked', 'checked'), ('bringing', 'being brought in'), ('brought', 'brought in'), ('failed', 'did not come in')], max_length=10)),
                    ('options', models.JSONField(default=dict)),
                    ('outcome', models.JSONField(null=True)),
                    ('said', models.CharField(blank=True, help_text='Why it failed, in words.', max_length=400)),
                    ('laid_out_at', models.DateTimeField()),
                    ('changed_at', models.DateTimeField()),
                    ('claimed_until', models.DateTimeField(null=True)),
                    ('by_device', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.devicetoken')),
                    ('by_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                ],
                options={
                    'indexes': [models.Index(condition=models.Q(('state__in', ['checking', 'bringing'])), fields=['changed_at'], name='import_under_way'), models.Index(fields=['workshop', '-id'], name='import_newest')],
                    'constraints': [models.CheckConstraint(condition=models.Q(('name', ''), _negated=True), name='import_named', violation_error_code='missing'), models.CheckConstraint(condition=models.Q(('kept_as', ''), _negated=True), name='import_kept', violation_error_code='missing'), models.UniqueConstraint(condition=models.Q(('kept_as', models.F('sha256')), _negated=True), fields=('kept_as',), name='import_kept_once', violation_error_code='kept_before'), models.UniqueConstraint(condition=models.Q(('beside_kept_as', models.F('beside_sha256')), _negated=True), fields=('beside_kept_as',), name='import_beside_kept_once', violation_error_code='kept_before'), models.CheckConstraint(condition=models.Q(models.Q(('beside_kept_as', ''), ('beside_name', ''), ('beside_sha256', '')), models.Q(models.Q(('beside_sha256', ''), _negated=True), models.Q(('beside_name', ''), _negated=True), models.Q(('beside_kept_as', ''), _negated=True)), _connector='OR'), name='import_beside_whole', violation_error_code='missing')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='BroughtRow',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('kind', models.CharField(max_length=20)),
                    ('key', models.CharField(help_text='SHA-256.', max_length=64)),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                    ('brought_by', models.ForeignKey(db_index=False, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='intake.import')),
                ],
                options={
                    'constraints': [models.UniqueConstraint(fields=('workshop', 'kind', 'key'), name='broughtrow_once', violation_error_code='sent_before')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='ColumnMemory',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('kind', models.CharField(max_length=20)),
                    ('header', models.CharField(help_text='As it stands in the file, in small letters.', max_length=120)),
                    ('key', models.CharField(blank=True, help_text='The column it is; empty: it is left out.', max_length=40)),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                ],
                options={
                    'constraints': [models.UniqueConstraint(fields=('workshop', 'kind', 'header'), name='columnmemory_once')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            )],
        ),
        curehouse.common.guards.InstallGuards(
            ledgers=[],
            others=['Import', 'ColumnMemory', 'BroughtRow'],
        ),
    ]
