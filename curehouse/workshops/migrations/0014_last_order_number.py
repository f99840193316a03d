"""Orders have the house's own number."""

from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('workshops', '0013_devices_that_sense'),
    ]

    operations = [
        migrations.AddField(
            model_name='workshop',
            name='last_order_number',
            field=models.PositiveIntegerField(db_default=0, default=0),
        ),
    ]
