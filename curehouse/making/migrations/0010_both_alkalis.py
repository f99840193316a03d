from django.db import migrations, models
from django.db.models import F

from curehouse.common.guards import GuardsAside


def _as_the_formula_has_it(apps, editor):
    """Say it of batches whose formula has one alkali only; of others nobody said how much of the lye is which."""
    batches = apps.get_model("making", "Batch")._base_manager.filter(lye_g__isnull=False)
    batches.filter(version__naoh_share=1).update(koh_g=0)
    batches.filter(version__naoh_share=0).update(koh_g=F("lye_g"))


class Migration(migrations.Migration):

    dependencies = [
        ('making', '0009_liquids_of_ones_own'),
    ]

    operations = [
        GuardsAside(
            [
                migrations.AddField(
                    model_name='batch',
                    name='koh_g',
                    field=models.DecimalField(decimal_places=3, help_text='How much of the lye is potassium hydroxide; null: nobody said.', max_digits=10, null=True),
                ),
                migrations.AddConstraint(
                    model_name='batch',
                    constraint=models.CheckConstraint(condition=models.Q(('koh_g__isnull', True), models.Q(('koh_g__gte', 0), ('koh_g__lte', models.F('lye_g')), ('lye_g__isnull', False)), _connector='OR'), name='batch_koh_of_the_lye', violation_error_code='koh'),
                ),
            ],
        ),
        migrations.RunPython(_as_the_formula_has_it, migrations.RunPython.noop),
    ]
