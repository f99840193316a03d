"""The index of what ended for want of mail: the tick looks there once mail is set up."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("notices", "0002_guards")]

    operations = [
        migrations.AddIndex(
            model_name="delivery",
            index=models.Index(
                fields=["ended_at"], condition=models.Q(("state", "no_mail")), name="delivery_no_mail"
            ),
        ),
    ]
