import curehouse.common.fresh_tables
import curehouse.common.guards
import django.db.models.deletion
import django.db.models.manager
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    replaces = [('notices', '0001_first_rooms'), ('notices', '0002_guards'), ('notices', '0003_delivery_no_mail'), ('notices', '0004_at_once_names_a_failed_check'), ('notices', '0005_at_once_names_what_may_be_caustic')]

    initial = True

    dependencies = [
        ('workshops', '0001_first_rooms'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        curehouse.common.fresh_tables.TablesAtOnce(
            models=[migrations.CreateModel(
                name='Notice',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('key', models.CharField(help_text='What it is about, once: ready:batch:12:3.', max_length=120)),
                    ('kind', models.CharField(max_length=20)),
                    ('about', models.CharField(help_text='The thing it is about: batch:12.', max_length=60)),
                    ('mark', models.CharField(blank=True, help_text='The state whose mark stands beside it.', max_length=12)),
                    ('title', models.CharField(max_length=200)),
                    ('body', models.TextField()),
                    ('path', models.CharField(help_text='Where to go in the house.', max_length=200)),
                    ('state', models.CharField(choices=[('open', 'open'), ('done', 'done'), ('withdrawn', 'withdrawn')], default='open', max_length=9)),
                    ('closed_why', models.CharField(blank=True, max_length=300)),
                    ('closed_at', models.DateTimeField(null=True)),
                    ('written_at', models.DateTimeField()),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                ],
                options={
                    'indexes': [models.Index(condition=models.Q(('state', 'open')), fields=['workshop', '-id'], name='notice_open'), models.Index(condition=models.Q(('state', 'open')), fields=['workshop', 'about'], name='notice_open_about')],
                    'constraints': [models.UniqueConstraint(fields=('workshop', 'key'), name='notice_key_once'), models.CheckConstraint(condition=models.Q(models.Q(('closed_at__isnull', True), ('state', 'open')), models.Q(models.Q(('state', 'open'), _negated=True), ('closed_at__isnull', False)), _connector='OR'), name='notice_closed_has_moment')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='Delivery',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('channel', models.CharField(choices=[('email', 'e-mail')], max_length=8)),
                    ('state', models.CharField(choices=[('waiting', 'waiting'), ('sending', 'being sent'), ('sent', 'sent'), ('twice', 'sent, perhaps twice'), ('unknown', 'perhaps sent'), ('failed', 'not sent'), ('no_mail', 'no mail set up'), ('withdrawn', 'withdrawn')], default='waiting', max_length=10)),
                    ('attempts', models.PositiveSmallIntegerField(default=0)),
                    ('unsure_attempts', models.PositiveSmallIntegerField(default=0, help_text='Attempts cut off before their end was known.')),
                    ('next_try_at', models.DateTimeField()),
                    ('claimed_until', models.DateTimeField(null=True)),
                    ('last_error', models.CharField(blank=True, max_length=300)),
                    ('ended_at', models.DateTimeField(null=True)),
                    ('user', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                    ('notice', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='deliveries', to='notices.notice')),
                ],
                options={
                    'indexes': [models.Index(condition=models.Q(('state__in', ['waiting', 'sending'])), fields=['next_try_at'], name='delivery_due'), models.Index(condition=models.Q(('state', 'no_mail')), fields=['ended_at'], name='delivery_no_mail')],
                    'constraints': [models.UniqueConstraint(fields=('notice', 'user', 'channel'), name='delivery_once')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            ), migrations.CreateModel(
                name='Subscription',
                fields=[
                    ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                    ('channel', models.CharField(choices=[('email', 'e-mail')], max_length=8)),
                    ('at_once', models.BooleanField(default=True, help_text='Ready, check due, check failed, may be caustic, too soft: when it happens.')),
                    ('morning', models.BooleanField(default=True, help_text='The morning digest.')),
                    ('user', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                    ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
                ],
                options={
                    'constraints': [models.UniqueConstraint(fields=('workshop', 'user', 'channel'), name='subscription_once')],
                },
                managers=[
                    ('unscoped', django.db.models.manager.Manager()),
                ],
            )],
        ),
        curehouse.common.guards.InstallGuards(
            ledgers=[],
            others=['Notice', 'Delivery', 'Subscription'],
        ),
    ]
