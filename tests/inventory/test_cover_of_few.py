"""The cover of some materials is what it is among all of them."""

from datetime import timedelta
from decimal import Decimal

import pytest

from inventory.adapter import covers
from inventory.services.movements import reverse, use
from tests.world import World

pytestmark = pytest.mark.django_db


def test_the_cover_of_few_materials_is_theirs_among_all(world: World, stranger: World) -> None:
    came = world.now.date() - timedelta(days=400)
    for name, amounts in {"Olive oil": ["300", "120.5"], "Lard": ["80"], "Zinc-white clay": []}.items():
        material = world.material(name)
        for amount in [*amounts, "40"]:
            lot = world.lot("1000", material=material, received_on=came)
            for days in (10, 200):
                use(actor=world.actor, lot=lot, amount=Decimal(amount), moment=world.days_ago(days), at=world.now)
    taken_back = use(actor=world.actor, lot=lot, amount=Decimal(9), moment=world.days_ago(5), at=world.now)
    reverse(actor=world.actor, movement=taken_back.movement, reason="a slip", at=world.now)
    stranger.lot("900")
    every = covers(workshop=world.workshop, at=world.now)
    assert {round(one.a_day * 90, 3) for one in every.values() if one.a_day} == {460.5, 120, 40}
    for key in every:
        assert covers(workshop=world.workshop, at=world.now, materials=[key]) == {key: every[key]}
    assert covers(workshop=world.workshop, at=world.now, materials=[]) == {}
