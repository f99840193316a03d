"""The demo's fragrance mix: its recipe, and some of it mixed lately. All invented."""

from collections.abc import Mapping
from datetime import datetime, timedelta
from decimal import Decimal

from curehouse.common.time import local_day
from curehouse.flows.blends import make_blend, write_blend
from curehouse.flows.demo_goods import MIX, MIX_KEEPS_DAYS, MIXED_DAYS_AGO, MIXED_G, MIXED_OF
from curehouse.flows.use_stock import propose
from curehouse.workshops.actors import Actor
from inventory.models import Lot, Material, Movement
from inventory.services.blends import BlendEntry, MakingEntry, PartEntry, TakeEntry
from inventory.services.things import MaterialEntry, write_material

_WRITTEN_DAYS_AGO = 40


def write_mix(*, actor: Actor, materials: Mapping[str, Material], at: datetime) -> Material:
    """Write down what the mix is made from, and book what was mixed of it; return it."""
    mix = write_material(workshop=actor.workshop, entry=MaterialEntry(MIX, Material.Kind.FRAGRANCE))
    parts = [PartEntry(Decimal(share), materials[name]) for name, share in MIXED_OF]
    entry = BlendEntry(parts, keeps_days=MIX_KEEPS_DAYS, note="Cedarwood into the lavender; left to stand for a week.")
    write_blend(actor=actor, material=mix, entry=entry, at=at - timedelta(days=_WRITTEN_DAYS_AGO))
    mixed_at = at - timedelta(days=MIXED_DAYS_AGO)
    day, whole = local_day(mixed_at, actor.workshop.time_zone), sum(share for _name, share in MIXED_OF)
    takes = [
        TakeEntry(grams, lot)
        for name, share in MIXED_OF
        for lot, grams in propose(
            workshop=actor.workshop, material=materials[name], amount=Decimal(MIXED_G * share) / whole, day=day
        ).takes
    ]
    made = MakingEntry(Decimal(MIXED_G), takes, mixed_at, standing=Lot.Standing.RELEASED, why="smelled, labelled")
    make_blend(actor=actor, material=mix, entry=made, at=mixed_at, source=Movement.Source.DEMO)
    return mix
