"""No level at which a material counts as low: what is to be ordered, and by when, is worked out."""

from django.db import migrations

from curehouse.common.guards import GuardsAside


class Migration(migrations.Migration):
    dependencies = [
        ("inventory", "0011_proposals"),
    ]

    operations = [
        GuardsAside(
            [
                migrations.RemoveConstraint(model_name="material", name="material_low_at"),
                migrations.RemoveField(model_name="material", name="low_at"),
            ],
        ),
    ]
