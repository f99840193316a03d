"""What a maker types to enter a batch."""

import uuid
from typing import Any

from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from curehouse.curing.models import Placement, SampleBar
from curehouse.making.models import Batch, BatchLiquid, Formula
from tests.world import World

# Berlin is an hour ahead of UTC in winter.
CUT = {
    "is_cut": "yes",
    "cut_at": "2026-03-09T10:30",
    "bars": "24",
    "sample_bars": "3",
    "position": "",
}
NOT_CUT = {"is_cut": "no", "cut_at": "", "bars": "", "sample_bars": "3", "position": ""}
POURED = {
    "formula_name": "Goat & oat",
    "poured_at": "2026-03-08T10:00",
    "fats_g": "2000",
    "lye_g": "283,5",
    "water_share_stated": "",
    "note": "",
}


def liquids(*rows: tuple[str, str, str, str]) -> dict[str, str]:
    """Return rows of (kind, mass, place, own water part) as a form sends them."""
    sent = {"liquids-TOTAL_FORMS": str(len(rows)), "liquids-INITIAL_FORMS": "0"}
    for number, row in enumerate(rows):
        sent |= {
            f"liquids-{number}-{name}": value for name, value in zip(("kind", "mass_g", "place", "water_pct"), row, strict=True)
        }
    return sent


USUAL = liquids(("water", "420", "front", ""), ("goat_milk", "220", "trace", ""), ("", "", "front", ""))


def enter(client: Client, *, key: str = "", **changes: Any) -> HttpResponse:
    """Send the form; it is right as it stands."""
    sent = {"form_key": key or str(uuid.uuid4()), **POURED, **USUAL, **CUT, **changes}
    return client.post(reverse("web:batch_new"), sent)


def nothing_was_written(world: World) -> bool:
    """Return whether no trace of a batch is there, its formula and number included."""
    kinds = (Batch, BatchLiquid, Formula, SampleBar, Placement)
    world.workshop.refresh_from_db()
    return not any(kind.objects.within(world.workshop).exists() for kind in kinds) and world.workshop.last_batch_number == 0
