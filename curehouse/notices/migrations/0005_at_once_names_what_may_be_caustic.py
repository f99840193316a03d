"""The wish to be told at once says that it takes in a batch that may be caustic."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("notices", "0004_at_once_names_a_failed_check")]

    operations = [
        migrations.AlterField(
            model_name="subscription",
            name="at_once",
            field=models.BooleanField(
                default=True, help_text="Ready, check due, check failed, may be caustic, too soft: when it happens."
            ),
        ),
    ]
