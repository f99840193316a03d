"""The wish to be told at once says that it takes in a check that failed."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("notices", "0003_delivery_no_mail")]

    operations = [
        migrations.AlterField(
            model_name="subscription",
            name="at_once",
            field=models.BooleanField(
                default=True, help_text="Ready, check due, check failed, too soft: when it happens."
            ),
        ),
    ]
