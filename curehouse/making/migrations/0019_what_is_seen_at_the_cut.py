import django.db.models.deletion
import django.db.models.manager
from django.conf import settings
from django.db import migrations, models

from curehouse.common.guards import InstallGuards


class Migration(migrations.Migration):

    dependencies = [
        ('making', '0018_fat_added_to_mend'),
        ('workshops', '0015_waiting_costs'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='CutNote',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('gel', models.CharField(blank=True, choices=[('all', 'seen all through'), ('part', 'seen in part'), ('none', 'not seen')], help_text='Empty: nobody looked.', max_length=4)),
                ('trim_g', models.DecimalField(decimal_places=3, help_text='The trimmings in grams, 0 where there were none; null: not weighed.', max_digits=10, null=True)),
                ('note', models.CharField(blank=True, max_length=400)),
                ('written_at', models.DateTimeField()),
                ('batch', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='cut_notes', to='making.batch')),
                ('by_device', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.devicetoken')),
                ('by_user', models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('workshop', models.ForeignKey(db_index=False, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='workshops.workshop')),
            ],
            options={
                'constraints': [models.CheckConstraint(condition=models.Q(('trim_g__isnull', True), ('trim_g__gte', 0), _connector='OR'), name='cutnote_trim', violation_error_code='mass')],
            },
            managers=[
                ('unscoped', django.db.models.manager.Manager()),
            ],
        ),
        InstallGuards(ledgers=["CutNote"], others=[]),
    ]
