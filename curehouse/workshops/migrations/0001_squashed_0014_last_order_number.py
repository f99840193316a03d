import curehouse.common.fresh_tables
import curehouse.common.guards
import django.db.models.deletion
import django.db.models.functions.text
import django.db.models.manager
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    replaces = [('workshops', '0001_first_rooms'), ('workshops', '0002_guards'), ('workshops', '0003_tares_of_a_scale'), ('workshops', '0004_last_lot_number'), ('workshops', '0005_who_did_what'), ('workshops', '0006_who_comes_and_goes'), ('workshops', '0007_how_far_devices_reach'), ('workshops', '0008_tries_at_the_door'), ('workshops', '0009_second_step_at_the_door'), ('workshops', '0010_names_in_the_trail'), ('workshops', '0011_steps_to_the_last_place'), ('workshops', '0012_steps_in_ounces_made_whole'), ('workshops', '0013_devices_that_sense'), ('workshops', '0014_last_order_number')]

    initial = True

    dependencies = [
    ]

    operations = [
        curehouse.common.fresh_tables.TablesAtOnce(
            models=[migrations.CreateModel(
                name='User',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('password', models.CharField(max_length=128, verbose_name='password')),
                    ('last_login', models.DateTimeField(blank=True, null=True, verbose_name='last login')),
                    ('email', models.EmailField(max_length=254, unique=True)),
                    ('name', models.CharField(max_length=120)),
                    ('is_active', models.BooleanField(default=True)),
                    ('joined_at', models.DateTimeField()),
                ],
                options={
                    'constraints': [models.CheckConstraint(condition=models.Q(('email', django.db.models.functions.text.Lower('email'))), name='user_email_small', violation_error_code='email')],
                },
            ), migrations.CreateModel(
                name='DoorCount',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('key', models.CharField(max_length=100, unique=True)),
                    ('tries', models.PositiveIntegerField()),
                    ('began_at', models.DateTimeField()),
                    ('ends_at', models.DateTimeField(db_index=True)),
                    ('refused_at', models.DateTimeField(null=True)),
                ],
                options={
                    'constraints': [models.CheckConstraint(condition=models.Q(('ends_at__gt', models.F('began_at'))), name='doorcount_ends_after_it_began')],
                },
            ), migrations.CreateModel(
                name='PersonSession',
                fields=[
                    ('session_key', models.CharField(max_length=40, primary_key=True, serialize=False, verbose_name='session key')),
                    ('session_data', models.TextField(verbose_name='session data')),
                    ('expire_date', models.DateTimeField(db_index=True, verbose_name='expire date')),
                    ('begun_at', models.DateTimeField()),
                    ('seen_at', models.DateTimeField()),
                    ('from_address', models.CharField(blank=True, max_length=45)),
                    ('from_device', models.CharField(blank=True, max_length=80)),
                    ('person', models.ForeignKey(null=True, on_delete=django.db.models.deletion.CASCADE, related_name='+', to=settings.AUTH_USER_MODEL)),
                ],
                options={
                    'verbose_name': 'session',
                },
            ), migrations.CreateModel(
                name='SecondStep',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('seed', models.CharField(max_length=64)),
                    ('on_since', models.DateTimeField()),
                    ('last_step', models.PositiveBigIntegerField(help_text='Of the newest code that was accepted; none up to it is again.')),
                    ('codes_set', models.PositiveIntegerField(default=1, help_text='Counts the sets of recovery codes; the newest is good.')),
                    ('person', models.OneToOneField(on_delete=django.db.models.deletion.CASCADE, related_name='second_step', to=settings.AUTH_USER_MODEL)),
                ],
            ), migrations.CreateModel(
                name='RecoveryCode',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('digest', models.CharField(max_length=64, unique=True)),
                    ('used_at', models.DateTimeField(null=True)),
                    ('second_step', models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name='recovery_codes', to='workshops.secondstep')),
                ],
            ), migrations.CreateModel(
                name='Workshop',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('name', models.CharField(max_length=120)),
                    ('unit', models.CharField(choices=[('g', 'grams (g)'), ('oz', 'ounces (oz)')], default='g', max_length=2)),
                    ('time_zone', models.CharField(max_length=64)),
                    ('currency', models.CharField(max_length=3)),
                    ('round_days', models.JSONField(help_text='Weekdays of the round, Monday is 0.')),
                    ('morning_at', models.TimeField()),
                    ('morning_done_on', models.DateField(null=True)),
                    ('min_days', models.PositiveSmallIntegerField(default=28)),
                    ('weekly_loss_limit_pct', models.DecimalField(decimal_places=3, default='0.75', max_digits=5)),
                    ('latest_day', models.PositiveSmallIntegerField(default=56)),
                    ('water_left_limit_pct', models.DecimalField(decimal_places=2, max_digits=5, null=True)),
                    ('check_method', models.CharField(blank=True, max_length=120)),
                    ('check_limit', models.CharField(blank=True, max_length=200)),
                    ('last_batch_number', models.PositiveIntegerField(default=0)),
                    ('last_lot_number', models.PositiveIntegerField(default=0)),
                    ('last_order_number', models.PositiveIntegerField(db_default=0, default=0)),
                    ('created_at', models.DateTimeField()),
                ],
                options={
                    'constraints': [models.CheckConstraint(condition=models.Q(('name', ''), _negated=True), name='workshop_named', violation_error_code='missing'), models.CheckConstraint(condition=models.Q(('weekly_loss_limit_pct__gt', 0), ('weekly_loss_limit_pct__lte', 10)), name='workshop_weekly_loss_limit', violation_error_code='loss_limit'), models.CheckConstraint(condition=models.Q(('min_days__gte', 1), ('latest_day__gt', models.F('min_days')), ('latest_day__lte', 730)), name='workshop_days_in_order', violation_error_code='days_in_order'), models.CheckConstraint(condition=models.Q(('water_left_limit_pct__isnull', True), models.Q(('water_left_limit_pct__gt', 0), ('water_left_limit_pct__lt', 100)), _connector='OR'), name='workshop_water_left_limit', violation_error_code='water_limit')],
                },
            ), migrations.CreateModel(
                name='Scale',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('name', models.CharField(max_length=80)),
                    ('step_g', models.DecimalField(decimal_places=12, max_digits=15)),
                    ('retired_at', models.DateTimeField(null=True)),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                ],
                options={
                    'constraints': [models.UniqueConstraint(fields=('workshop', 'name'), name='scale_name_once', violation_error_code='name_taken'), models.CheckConstraint(condition=models.Q(('step_g__gt', 0)), name='scale_step_positive', violation_error_code='not_positive')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='Member',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('role', models.CharField(choices=[('owner', 'owner'), ('maker', 'maker'), ('helper', 'helper'), ('reader', 'reader')], max_length=10)),
                    ('joined_at', models.DateTimeField()),
                    ('left_at', models.DateTimeField(null=True)),
                    ('ended_by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                    ('user', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='memberships', to=settings.AUTH_USER_MODEL)),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                ],
                options={
                    'constraints': [models.UniqueConstraint(condition=models.Q(('left_at__isnull', True)), fields=('workshop', 'user'), name='member_once', violation_error_code='member_once'), models.CheckConstraint(condition=models.Q(models.Q(('ended_by__isnull', True), ('left_at__isnull', True)), models.Q(('ended_by__isnull', False), ('left_at__isnull', False)), _connector='OR'), name='member_ended_by_somebody', violation_error_code='ended')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='Invitation',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('role', models.CharField(choices=[('owner', 'owner'), ('maker', 'maker'), ('helper', 'helper'), ('reader', 'reader')], max_length=10)),
                    ('email', models.CharField(blank=True, help_text='Who it was meant for, if that was said.', max_length=254)),
                    ('digest', models.CharField(max_length=64, unique=True)),
                    ('made_at', models.DateTimeField()),
                    ('expires_at', models.DateTimeField()),
                    ('accepted_at', models.DateTimeField(null=True)),
                    ('withdrawn_at', models.DateTimeField(null=True)),
                    ('accepted_by', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                    ('made_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                ],
                options={
                    'constraints': [models.CheckConstraint(condition=models.Q(models.Q(('accepted_at__isnull', True), ('accepted_by__isnull', True)), models.Q(('accepted_at__isnull', False), ('accepted_by__isnull', False), ('withdrawn_at__isnull', True)), _connector='OR'), name='invitation_ends_once', violation_error_code='ended')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='DeviceToken',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('name', models.CharField(max_length=80)),
                    ('digest', models.CharField(max_length=64, unique=True)),
                    ('hint', models.CharField(help_text='The first characters, to tell tokens apart.', max_length=8)),
                    ('reach', models.CharField(choices=[('weighs', 'weighs only'), ('senses', 'sends the air of rooms only'), ('reads', 'reads, without costs'), ('works', 'all a maker may do')], max_length=6)),
                    ('made_at', models.DateTimeField()),
                    ('last_used_at', models.DateTimeField(null=True)),
                    ('revoked_at', models.DateTimeField(null=True)),
                    ('made_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                ],
                options={
                    'abstract': False,
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='AuditEntry',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('at', models.DateTimeField()),
                    ('by_name', models.CharField(blank=True, help_text='What the person or the device was called then; empty in the oldest entries.', max_length=120)),
                    ('command', models.CharField(blank=True, help_text='The command of the shell that did it, if one did.', max_length=40)),
                    ('code', models.CharField(help_text='What was done; these names do not change.', max_length=40)),
                    ('said', models.CharField(help_text="The same in a sentence, with the thing's name then.", max_length=300)),
                    ('address', models.CharField(blank=True, help_text='The page of the thing.', max_length=200)),
                    ('from_address', models.CharField(blank=True, help_text='The network address it was asked from.', max_length=45)),
                    ('from_device', models.CharField(blank=True, help_text='The browser or device, in words.', max_length=80)),
                    ('by_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                    ('by_device', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.devicetoken')),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                ],
                options={
                    'verbose_name_plural': 'audit entries',
                    'indexes': [models.Index(fields=['workshop', 'at'], name='auditentry_by_moment')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='Submission',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('key', models.CharField(max_length=80)),
                    ('fingerprint', models.CharField(help_text='SHA-256 of what was sent.', max_length=64)),
                    ('answer', models.JSONField(null=True)),
                    ('at', models.DateTimeField()),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                ],
                options={
                    'constraints': [models.UniqueConstraint(fields=('workshop', 'key'), name='submission_once')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
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
            ), migrations.CreateModel(
                name='ScaleCheck',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('at', models.DateTimeField()),
                    ('test_weight_g', models.DecimalField(decimal_places=3, max_digits=10)),
                    ('shown_g', models.DecimalField(decimal_places=3, max_digits=10)),
                    ('by_device', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.devicetoken')),
                    ('by_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                    ('scale', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='checks', to='workshops.scale')),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                ],
                options={
                    'constraints': [models.CheckConstraint(condition=models.Q(('test_weight_g__gt', 0), ('shown_g__gte', 0)), name='scalecheck_weights_positive', violation_error_code='not_positive')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            )],
        ),
        curehouse.common.guards.InstallGuards(
            ledgers=['ScaleCheck', 'AuditEntry'],
            others=['Member', 'DeviceToken', 'Scale', 'Submission', 'ScaleTare', 'Invitation'],
        ),
    ]
