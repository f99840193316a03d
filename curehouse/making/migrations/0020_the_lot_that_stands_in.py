import django.db.models.deletion
from django.db import migrations, models

from curehouse.common.guards import GuardsAside, InstallGuards


class Migration(migrations.Migration):
    """Runs that were planned before keep no lot: they choose what is left when those that do have theirs."""

    dependencies = [
        ('inventory', '0014_wanted_again'),
        ('making', '0019_what_is_seen_at_the_cut'),
    ]

    operations = [
        GuardsAside(
            [
                migrations.AddField(
                    model_name='reservation',
                    name='stands_in',
                    field=models.ForeignKey(help_text='Of lye: the lot of it dissolved beforehand that was chosen for the run, and stays its own.', null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inventory.lot'),
                ),
            ]
        ),
        InstallGuards(ledgers=[], others=["Reservation"]),
    ]
