from django.db import migrations
from django.db.models import Q


def none_where_a_sheet_refuses(apps, schema_editor):
    """Take the room for dissolved lye from runs whose weighing sheet could refuse it; they take their lye dry."""
    version = apps.get_model("making", "FormulaVersion")
    cold_or_typed = Q(front_c__lt=20) | Q(naoh_purity__isnull=False) | Q(koh_purity__isnull=False)
    refusing = version._base_manager.filter(cold_or_typed).values("pk")
    reservation = apps.get_model("making", "Reservation")
    reservation._base_manager.filter(run__version__in=refusing, water_g__gt=0).update(water_g=0)


class Migration(migrations.Migration):
    dependencies = [
        ("making", "0016_pours_at_the_table"),
    ]

    operations = [
        migrations.RunPython(none_where_a_sheet_refuses, migrations.RunPython.noop),
    ]
