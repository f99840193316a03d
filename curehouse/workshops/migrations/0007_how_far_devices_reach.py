from django.db import migrations, models

from curehouse.common.guards import GuardsAside


class Migration(migrations.Migration):
    """Devices that have a token keep the reach they had: all a maker may do."""

    dependencies = [
        ("workshops", "0006_who_comes_and_goes"),
    ]

    operations = [
        GuardsAside([
            migrations.AddField(
                model_name="devicetoken",
                name="reach",
                field=models.CharField(
                    choices=[("weighs", "weighs only"), ("reads", "reads, without costs"), ("works", "all a maker may do")],
                    default="works",
                    max_length=6,
                ),
                preserve_default=False,
            ),
        ]),
    ]
