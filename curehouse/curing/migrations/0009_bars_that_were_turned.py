import django.db.models.deletion
import django.db.models.manager
from django.conf import settings
from django.db import migrations, models

from curehouse.common.guards import InstallGuards


class Migration(migrations.Migration):

    dependencies = [
        ('curing', '0008_kept_places'),
        ('making', '0019_what_is_seen_at_the_cut'),
        ('workshops', '0016_how_often_bars_are_turned'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='Turning',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('turned_at', models.DateTimeField()),
                ('written_at', models.DateTimeField()),
                ('batch', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='turnings', to='making.batch')),
                ('by_device', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.devicetoken')),
                ('by_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
            ],
            options={
                'abstract': False,
            },
            managers=[
                ('unscoped', django.db.models.manager.Manager()),
            ],
        ),
        InstallGuards(ledgers=["Turning"], others=[]),
    ]
