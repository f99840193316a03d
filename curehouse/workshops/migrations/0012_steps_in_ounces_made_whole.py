"""Steps that were typed in ounces were cut to milligrams: those that scales are sold with get their places back."""

from decimal import Decimal
from typing import Any

from django.db import migrations

GRAMS_PER_OUNCE = Decimal("28.349523125")
MILLIGRAM = Decimal("0.001")
# A step of 1, 2 or 5 of any decimal place; under a thousandth a milligram is too coarse to tell which it was.
STEPS_OZ = [Decimal(digit).scaleb(place) for place in (-3, -2, -1, 0) for digit in (1, 2, 5)]


def made_whole(apps: Any, schema_editor: Any) -> None:
    """Give each step of a workshop in ounces that is a rounded one its exact value."""
    exact = {(step * GRAMS_PER_OUNCE).quantize(MILLIGRAM): step * GRAMS_PER_OUNCE for step in STEPS_OZ}
    scales = apps.get_model("workshops", "Scale")._base_manager.filter(workshop__unit="oz")
    for scale in scales.iterator():
        if scale.step_g in exact:
            scale.step_g = exact[scale.step_g]
            scale.save(update_fields=["step_g"])


class Migration(migrations.Migration):
    dependencies = [
        ("workshops", "0011_steps_to_the_last_place"),
    ]

    operations = [
        migrations.RunPython(made_whole, migrations.RunPython.noop),
    ]
