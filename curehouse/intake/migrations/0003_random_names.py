"""Files get names of their own in the data folder; those that are there stay under their SHA-256."""

from django.db import migrations, models
from django.db.models import F, Q

from curehouse.common.guards import GuardsAside


def _stay_where_they_are(apps, editor):
    apps.get_model("intake", "Import")._base_manager.update(kept_as=F("sha256"), beside_kept_as=F("beside_sha256"))


class Migration(migrations.Migration):

    dependencies = [
        ('intake', '0002_say_what_did_not_come_in'),
    ]

    operations = [
        GuardsAside(
            [
                migrations.AddField(
                    model_name='import',
                    name='kept_as',
                    field=models.CharField(default='', help_text='Its name in the data folder; of old files, their SHA-256.', max_length=64),
                    preserve_default=False,
                ),
                migrations.AddField(
                    model_name='import',
                    name='beside_kept_as',
                    field=models.CharField(blank=True, default='', max_length=64),
                    preserve_default=False,
                ),
                migrations.RunPython(_stay_where_they_are, migrations.RunPython.noop),
                migrations.AlterField(
                    model_name='import',
                    name='sha256',
                    field=models.CharField(help_text='Of what it holds.', max_length=64),
                ),
                migrations.RemoveConstraint(
                    model_name='import',
                    name='import_beside_whole',
                ),
                migrations.AddConstraint(
                    model_name='import',
                    constraint=models.CheckConstraint(condition=Q(Q(('beside_kept_as', ''), ('beside_name', ''), ('beside_sha256', '')), Q(Q(('beside_sha256', ''), _negated=True), Q(('beside_name', ''), _negated=True), Q(('beside_kept_as', ''), _negated=True)), _connector='OR'), name='import_beside_whole', violation_error_code='missing'),
                ),
                migrations.AddConstraint(
                    model_name='import',
                    constraint=models.CheckConstraint(condition=~Q(kept_as=''), name='import_kept', violation_error_code='missing'),
                ),
                migrations.AddConstraint(
                    model_name='import',
                    constraint=models.UniqueConstraint(condition=~Q(kept_as=F('sha256')), fields=('kept_as',), name='import_kept_once', violation_error_code='kept_before'),
                ),
                migrations.AddConstraint(
                    model_name='import',
                    constraint=models.UniqueConstraint(condition=~Q(beside_kept_as=F('beside_sha256')), fields=('beside_kept_as',), name='import_beside_kept_once', violation_error_code='kept_before'),
                ),
            ],
        ),
    ]
