import curehouse.common.fresh_tables
import curehouse.common.guards
import django.db.models.deletion
import django.db.models.manager
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    replaces = [('curing', '0001_first_rooms'), ('curing', '0002_guards'), ('curing', '0003_brought_in'), ('curing', '0004_forecasts'), ('curing', '0005_label_weights'), ('curing', '0006_rooms'), ('curing', '0007_ended_cures_read_once_more')]

    initial = True

    dependencies = [
        ('making', '0008_lots_that_went_in'),
        ('workshops', '0013_devices_that_sense'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        curehouse.common.fresh_tables.TablesAtOnce(
            models=[migrations.CreateModel(
                name='Assessment',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                    ('batch', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='assessments', to='making.batch')),
                    ('moment', models.DateTimeField()),
                    ('cause', models.CharField(choices=[('reading', 'a weighing'), ('review', 'a weighing kept, corrected or struck out'), ('check', 'a safety check'), ('morning', 'the morning')], max_length=8)),
                    ('reading', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='curing.reading')),
                    ('method', models.CharField(max_length=20)),
                    ('state', models.CharField(choices=[('curing', 'curing'), ('check_due', 'dry enough, check due'), ('ready', 'ready'), ('too_soft', 'too soft'), ('look_again', 'look again'), ('not_weighed', 'not weighed')], max_length=12)),
                    ('age_days', models.PositiveIntegerField()),
                    ('dry_enough', models.BooleanField()),
                    ('weekly_loss_pct', models.FloatField(null=True)),
                    ('total_loss_pct', models.FloatField(null=True)),
                    ('water_left_pct', models.FloatField(null=True)),
                    ('reasons', models.JSONField()),
                    ('advice', models.JSONField()),
                    ('figures', models.JSONField()),
                    ('written_at', models.DateTimeField()),
                ],
                options={
                    'indexes': [models.Index(fields=['batch', '-moment', '-id'], name='assessment_newest')],
                    'constraints': [models.UniqueConstraint(condition=models.Q(('cause', 'reading')), fields=('reading',), name='assessment_once_a_reading'), models.UniqueConstraint(condition=models.Q(('cause', 'morning')), fields=('batch', 'moment'), name='assessment_once_a_morning')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='CureCalibration',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('fingerprint', models.CharField(max_length=64)),
                    ('method', models.CharField(max_length=20)),
                    ('calibration', models.JSONField()),
                    ('found_at', models.DateTimeField()),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                ],
                options={
                    'constraints': [models.UniqueConstraint(fields=('workshop', 'fingerprint'), name='curecalibration_once', violation_error_code='once')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='CureLearning',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('stages', models.JSONField(default=list)),
                    ('logged_stages', models.JSONField(default=list)),
                    ('fingerprint', models.CharField(blank=True, max_length=64)),
                    ('learnt_at', models.DateTimeField(null=True)),
                    ('wanted_at', models.DateTimeField(null=True)),
                    ('claimed_until', models.DateTimeField(null=True)),
                    ('calibration', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='curing.curecalibration')),
                    ('logged_calibration', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='curing.curecalibration')),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                ],
                options={
                    'indexes': [models.Index(condition=models.Q(('wanted_at__isnull', False)), fields=['wanted_at'], name='curelearning_wanting')],
                    'constraints': [models.UniqueConstraint(fields=('workshop',), name='curelearning_one', violation_error_code='once')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='CurePrior',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('version', models.PositiveIntegerField()),
                    ('fingerprint', models.CharField(max_length=64)),
                    ('method', models.CharField(max_length=20)),
                    ('prior', models.JSONField()),
                    ('cures', models.PositiveIntegerField()),
                    ('learnt_at', models.DateTimeField()),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                ],
                options={
                    'constraints': [models.UniqueConstraint(fields=('workshop', 'version'), name='cureprior_version', violation_error_code='once'), models.UniqueConstraint(fields=('workshop', 'fingerprint'), name='cureprior_once', violation_error_code='once')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='CureRecord',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('fingerprint', models.CharField(max_length=64)),
                    ('content', models.JSONField()),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                ],
                options={
                    'constraints': [models.UniqueConstraint(fields=('workshop', 'fingerprint'), name='curerecord_once', violation_error_code='once')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='Forecast',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('moment', models.DateTimeField()),
                    ('method', models.CharField(max_length=20)),
                    ('fingerprint', models.CharField(max_length=64)),
                    ('beside', models.JSONField(default=list)),
                    ('asked', models.JSONField()),
                    ('foretold', models.JSONField()),
                    ('written_at', models.DateTimeField()),
                    ('batch', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='forecasts', to='making.batch')),
                    ('calibration', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='curing.curecalibration')),
                    ('prior', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='curing.cureprior')),
                    ('record', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='curing.curerecord')),
                    ('room', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='curing.curerecord')),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                ],
                options={
                    'indexes': [models.Index(fields=['batch', '-id'], name='forecast_newest')],
                    'constraints': [models.UniqueConstraint(fields=('batch', 'fingerprint'), name='forecast_once', violation_error_code='once')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='LabelWeight',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('rule', models.CharField(choices=[('directive_76_211', 'Directive 76/211/EEC, Annex I'), ('handbook_133', 'NIST Handbook 133')], max_length=20)),
                    ('wrap', models.CharField(choices=[('open', 'open'), ('band', 'in a band'), ('sealed', 'sealed')], max_length=6)),
                    ('packed_on', models.DateField()),
                    ('shelf_months', models.PositiveSmallIntegerField()),
                    ('probability', models.DecimalField(decimal_places=3, max_digits=4)),
                    ('bars', models.PositiveIntegerField()),
                    ('weight_g', models.DecimalField(decimal_places=3, max_digits=9)),
                    ('chance', models.FloatField()),
                    ('written_at', models.DateTimeField()),
                    ('batch', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='label_weights', to='making.batch')),
                    ('by_device', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.devicetoken')),
                    ('by_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                    ('forecast', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='curing.forecast')),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                ],
                options={
                    'verbose_name': 'label weight',
                    'indexes': [models.Index(fields=['batch', '-id'], name='labelweight_newest')],
                    'constraints': [models.CheckConstraint(condition=models.Q(('weight_g__gt', 0), ('bars__gt', 0)), name='labelweight_positive', violation_error_code='not_positive'), models.CheckConstraint(condition=models.Q(('probability__gt', 0), ('probability__lt', 1)), name='labelweight_probability', violation_error_code='probability')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='Position',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                    ('rack', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='positions', to='curing.rack')),
                    ('level', models.PositiveSmallIntegerField()),
                    ('place', models.PositiveSmallIntegerField()),
                    ('capacity_bars', models.PositiveIntegerField()),
                    ('bars_held', models.PositiveIntegerField(default=0)),
                ],
                options={
                    'constraints': [models.UniqueConstraint(fields=('rack', 'level', 'place'), name='position_once', violation_error_code='place_taken'), models.CheckConstraint(condition=models.Q(('bars_held__lte', models.F('capacity_bars'))), name='position_capacity', violation_error_code='position_full'), models.CheckConstraint(condition=models.Q(('capacity_bars__gt', 0), ('level__gt', 0), ('place__gt', 0)), name='position_numbers_positive', violation_error_code='not_positive')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='Placement',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('act', models.CharField(choices=[('placed', 'placed'), ('moved', 'moved'), ('turned', 'turned'), ('taken', 'taken away')], max_length=6)),
                    ('bars', models.PositiveIntegerField()),
                    ('at', models.DateTimeField()),
                    ('written_at', models.DateTimeField()),
                    ('batch', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='placements', to='making.batch')),
                    ('by_device', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.devicetoken')),
                    ('by_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                    ('origin', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='curing.position')),
                    ('target', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='curing.position')),
                ],
                options={
                    'constraints': [models.CheckConstraint(condition=models.Q(('bars__gt', 0)), name='placement_bars_positive', violation_error_code='not_positive'), models.CheckConstraint(condition=models.Q(models.Q(('act', 'placed'), ('origin__isnull', True), ('target__isnull', False)), models.Q(('act', 'moved'), ('origin__isnull', False), ('target__isnull', False)), models.Q(('act', 'turned'), ('origin__isnull', False), ('target', models.F('origin'))), models.Q(('act', 'taken'), ('origin__isnull', False), ('target__isnull', True)), _connector='OR'), name='placement_act_matches_ends', violation_error_code='placement_ends')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='Occupancy',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('bars', models.PositiveIntegerField()),
                    ('batch', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='occupancies', to='making.batch')),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                    ('position', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='occupancies', to='curing.position')),
                ],
                options={
                    'indexes': [models.Index(condition=models.Q(('bars__gt', 0)), fields=['workshop', 'position'], name='occupancy_standing')],
                    'constraints': [models.UniqueConstraint(fields=('batch', 'position'), name='occupancy_once')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='Rack',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('name', models.CharField(max_length=80)),
                    ('order', models.PositiveSmallIntegerField(default=0)),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                ],
                options={
                    'constraints': [models.UniqueConstraint(fields=('workshop', 'name'), name='rack_name_once', violation_error_code='name_taken'), models.CheckConstraint(condition=models.Q(('name', ''), _negated=True), name='rack_named', violation_error_code='missing')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='Reading',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                    ('by_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                    ('by_device', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.devicetoken')),
                    ('bar', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='readings', to='curing.samplebar')),
                    ('client_id', models.UUIDField()),
                    ('moment', models.DateTimeField()),
                    ('weight_g', models.DecimalField(decimal_places=3, max_digits=9)),
                    ('scale', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.scale')),
                    ('firmness', models.CharField(blank=True, choices=[('dents', 'dents'), ('gives', 'gives'), ('firm', 'firm')], max_length=5)),
                    ('dent_mm', models.DecimalField(decimal_places=2, max_digits=5, null=True)),
                    ('dent_tool', models.CharField(blank=True, help_text='Needle and load, where millimetres are noted.', max_length=80)),
                    ('corrects', models.OneToOneField(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='corrected_by', to='curing.reading')),
                    ('doubt', models.CharField(blank=True, max_length=20)),
                    ('doubt_guess_g', models.DecimalField(decimal_places=3, max_digits=9, null=True)),
                    ('doubt_detail', models.JSONField(default=dict)),
                    ('source', models.CharField(choices=[('round', 'round'), ('page', 'page'), ('api', 'API'), ('import', 'import'), ('demo', 'demo')], max_length=6)),
                    ('received_at', models.DateTimeField()),
                ],
                options={
                    'indexes': [models.Index(fields=['bar', 'moment', 'id'], name='reading_series')],
                    'constraints': [models.UniqueConstraint(fields=('client_id', 'workshop'), name='reading_client_id_once', violation_error_code='sent_before'), models.CheckConstraint(condition=models.Q(('weight_g__gt', 0)), name='reading_weight_positive', violation_error_code='not_positive'), models.CheckConstraint(condition=models.Q(('dent_mm__isnull', True), models.Q(('dent_mm__gte', 0), models.Q(('dent_tool', ''), _negated=True)), _connector='OR'), name='reading_dent_has_tool', violation_error_code='dent_tool')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='Cure',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('state', models.CharField(choices=[('curing', 'curing'), ('check_due', 'dry enough, check due'), ('ready', 'ready'), ('too_soft', 'too soft'), ('look_again', 'look again'), ('not_weighed', 'not weighed')], default='curing', max_length=12)),
                    ('state_since', models.DateTimeField()),
                    ('episode', models.PositiveIntegerField(default=0)),
                    ('last_weighed_at', models.DateTimeField(null=True)),
                    ('due_on', models.DateField(null=True)),
                    ('assess_wanted_at', models.DateTimeField(null=True)),
                    ('forecast_wanted_at', models.DateTimeField(null=True)),
                    ('ended_at', models.DateTimeField(null=True)),
                    ('assessment', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='curing.assessment')),
                    ('batch', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='cure', to='making.batch')),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                    ('record', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='curing.curerecord')),
                    ('forecast', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='curing.forecast')),
                    ('label', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='curing.labelweight')),
                    ('last_reading', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='curing.reading')),
                ],
                options={
                    'indexes': [models.Index(condition=models.Q(('ended_at__isnull', True)), fields=['workshop', 'due_on'], name='cure_going_on'), models.Index(condition=models.Q(('assess_wanted_at__isnull', False)), fields=['assess_wanted_at'], name='cure_wanting'), models.Index(condition=models.Q(('forecast_wanted_at__isnull', False)), fields=['forecast_wanted_at'], name='cure_unforetold')],
                    'constraints': [models.CheckConstraint(condition=models.Q(('ended_at__isnull', True), ('due_on__isnull', True), _connector='OR'), name='cure_ended_is_not_due', violation_error_code='ended')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='ReadingReview',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('decision', models.CharField(choices=[('kept', 'kept'), ('struck', 'struck out')], max_length=6)),
                    ('reason', models.CharField(blank=True, max_length=200)),
                    ('at', models.DateTimeField()),
                    ('by_device', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.devicetoken')),
                    ('by_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                    ('reading', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='reviews', to='curing.reading')),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                ],
                options={
                    'indexes': [models.Index(fields=['reading', '-id'], name='reading_review_newest')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='Room',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('name', models.CharField(max_length=80)),
                    ('heard_before', models.DateField(null=True)),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                ],
                options={
                    'constraints': [models.UniqueConstraint(fields=('workshop', 'name'), name='room_name_once', violation_error_code='name_taken'), models.CheckConstraint(condition=models.Q(('name', ''), _negated=True), name='room_named', violation_error_code='missing')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='RackRoom',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('since', models.DateField(null=True)),
                    ('written_at', models.DateTimeField()),
                    ('by_device', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.devicetoken')),
                    ('by_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                    ('rack', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='rooms', to='curing.rack')),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                    ('room', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='racks', to='curing.room')),
                ],
                options={
                    'abstract': False,
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='RoomDay',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('day', models.DateField()),
                    ('readings', models.PositiveIntegerField(default=0)),
                    ('humidity_sum', models.BigIntegerField(default=0)),
                    ('temperatures', models.PositiveIntegerField(default=0)),
                    ('temperature_sum', models.BigIntegerField(default=0)),
                    ('room', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='days', to='curing.room')),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                ],
                options={
                    'constraints': [models.UniqueConstraint(fields=('room', 'day'), name='roomday_once', violation_error_code='once')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='RoomReading',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('key', models.CharField(max_length=80)),
                    ('moment', models.DateTimeField()),
                    ('humidity_pct', models.DecimalField(decimal_places=2, max_digits=5)),
                    ('temperature_c', models.DecimalField(decimal_places=2, max_digits=4, null=True)),
                    ('typed', models.CharField(blank=True, max_length=40)),
                    ('source', models.CharField(choices=[('sensor', 'sensor'), ('form', 'form'), ('import', 'import'), ('demo', 'demo')], max_length=6)),
                    ('received_at', models.DateTimeField()),
                    ('by_device', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.devicetoken')),
                    ('by_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                    ('room', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='readings', to='curing.room')),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                ],
                options={
                    'verbose_name': 'room reading',
                    'indexes': [models.Index(fields=['room', '-moment', '-id'], name='roomreading_newest'), models.Index(fields=['workshop', '-moment', '-id'], name='roomreading_of_all')],
                    'constraints': [models.UniqueConstraint(fields=('room', 'key'), name='roomreading_once', violation_error_code='sent_before'), models.CheckConstraint(condition=models.Q(('humidity_pct__gte', 0), ('humidity_pct__lte', 100)), name='roomreading_humidity', violation_error_code='humidity'), models.CheckConstraint(condition=models.Q(('temperature_c__isnull', True), models.Q(('temperature_c__gte', -20), ('temperature_c__lte', 60)), _connector='OR'), name='roomreading_temperature', violation_error_code='temperature')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='RoomWithdrawal',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('reason', models.CharField(max_length=200)),
                    ('at', models.DateTimeField()),
                    ('by_device', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.devicetoken')),
                    ('by_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                    ('reading', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='withdrawal', to='curing.roomreading')),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                ],
                options={
                    'abstract': False,
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='SampleBar',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('letter', models.CharField(help_text='A letter, or what the maker marked it with before it was brought in.', max_length=12)),
                    ('ended_at', models.DateTimeField(null=True)),
                    ('ended_why', models.CharField(blank=True, max_length=200)),
                    ('batch', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='sample_bars', to='making.batch')),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                ],
                options={
                    'constraints': [models.UniqueConstraint(fields=('batch', 'letter'), name='samplebar_letter_once', violation_error_code='letter_taken')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            )],
        ),
        curehouse.common.guards.InstallGuards(
            ledgers=['Placement', 'Reading', 'ReadingReview', 'Assessment', 'CureRecord', 'CurePrior', 'CureCalibration', 'Forecast', 'LabelWeight', 'RackRoom', 'RoomReading', 'RoomWithdrawal'],
            others=['Rack', 'Position', 'Occupancy', 'SampleBar', 'Cure', 'CureLearning', 'Room', 'RoomDay'],
        ),
    ]
