from django.db import migrations, models

from curehouse.common.guards import GuardsAside


class Migration(migrations.Migration):
    dependencies = [
        ("workshops", "0009_second_step_at_the_door"),
    ]

    operations = [
        GuardsAside(
            [
                migrations.AddField(
                    model_name="auditentry",
                    name="by_name",
                    field=models.CharField(
                        blank=True,
                        default="",
                        help_text="What the person or the device was called then; empty in the oldest entries.",
                        max_length=120,
                    ),
                    preserve_default=False,
                ),
            ]
        ),
    ]
