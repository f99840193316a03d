import django.db.models.deletion
from django.db import migrations, models

from curehouse.common.guards import GuardsAside, InstallGuards


def _lye_is_not_told(apps, editor):
    """Say it of planned runs for which no lye is reserved: whether none is kept or none was told, nobody noted."""
    runs = apps.get_model("making", "Run")._base_manager.filter(state="planned")
    reservations = apps.get_model("making", "Reservation")._base_manager
    with_lye = reservations.filter(material__kind="lye").values("run")
    not_told = {"name": "lye", "amount_g": None, "is_kept": False, "is_lye": True}
    runs.exclude(pk__in=with_lye).update(unasked=[not_told])


class Migration(migrations.Migration):

    dependencies = [
        ('making', '0001_squashed_0012_planned_runs'),
    ]

    operations = [
        GuardsAside(
            [
                migrations.AddField(
                    model_name='run',
                    name='unasked',
                    field=models.JSONField(default=list, help_text='What of it the storeroom could not be asked for when it was reserved; see Unasked.'),
                ),
                migrations.AddField(
                    model_name='runchange',
                    name='fats_g',
                    field=models.DecimalField(decimal_places=3, help_text='Its oils from then on, in grams; null: nobody noted them.', max_digits=10, null=True),
                ),
                migrations.AddField(
                    model_name='runchange',
                    name='version',
                    field=models.ForeignKey(help_text='Its version from then on.', null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='making.formulaversion'),
                ),
            ]
        ),
        InstallGuards(ledgers=["RunChange"], others=[]),
        migrations.RunPython(_lye_is_not_told, migrations.RunPython.noop),
    ]
