"""Papers get a name of their own in the data folder; those that are there stay under their SHA-256."""

from django.db import migrations, models
from django.db.models import F, Q

from curehouse.common.guards import GuardsAside, ledger_open


def _stay_where_they_are(apps, editor):
    paper = apps.get_model("inventory", "LotFile")
    with ledger_open(editor, paper):
        paper._base_manager.update(kept_as=F("sha256"))


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0003_kinds_of_papers'),
    ]

    operations = [
        GuardsAside(
            [
                migrations.AddField(
                    model_name='lotfile',
                    name='kept_as',
                    field=models.CharField(default='', help_text='Its name in the data folder; of old papers, their SHA-256.', max_length=64),
                    preserve_default=False,
                ),
                migrations.RunPython(_stay_where_they_are, migrations.RunPython.noop),
                migrations.AlterField(
                    model_name='lotfile',
                    name='sha256',
                    field=models.CharField(help_text='Of what it holds.', max_length=64),
                ),
                migrations.AddConstraint(
                    model_name='lotfile',
                    constraint=models.CheckConstraint(condition=~Q(kept_as=''), name='lotfile_kept', violation_error_code='missing'),
                ),
                migrations.AddConstraint(
                    model_name='lotfile',
                    constraint=models.UniqueConstraint(condition=~Q(kept_as=F('sha256')), fields=('kept_as',), name='lotfile_kept_once', violation_error_code='kept_before'),
                ),
            ],
        ),
    ]
