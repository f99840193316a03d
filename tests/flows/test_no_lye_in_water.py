"""Lye is not dissolved beforehand yet: it is refused in words, and what a house made before is traced and booked."""

import pytest

from curehouse.flows.blends import write_blend
from inventory import blends
from inventory.blends import lots_with, recipes_of
from inventory.models import Blend, Making
from inventory.services.blends import BlendEntry
from tests.flows.test_lye_in_water import Dissolving, refused
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def bench(world: World, lye_in_water: None) -> Dissolving:
    """Return a house that wrote a recipe of lye while it could."""
    return Dissolving(world)


def close(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(blends, "LYE_IN_WATER", False)


def test_no_recipe_of_lye_is_written(world: World) -> None:
    said = refused("lye_not_yet", lambda: Dissolving(world))
    assert "cannot be told safely" in said
    assert "Weigh dry lye" in said
    assert [one.material.name for one in Blend.objects.within(world.workshop)] == ["Meadow mix"]


def test_none_is_made_by_a_recipe_of_before_that_can_be_ended(bench: Dissolving, monkeypatch: pytest.MonkeyPatch) -> None:
    close(monkeypatch)
    refused("lye_not_yet", bench.dissolve)
    assert not Making.objects.within(bench.world.workshop).exists()
    write_blend(actor=bench.world.actor, material=bench.solution, entry=BlendEntry(), at=bench.world.now)
    assert bench.solution.pk not in recipes_of(bench.world.workshop)


def test_what_was_made_before_stands_for_no_lye_and_is_weighed_out_for_nothing(
    bench: Dissolving, monkeypatch: pytest.MonkeyPatch
) -> None:
    version = bench.soap()
    dry_g = bench.row(bench.held(version), bench.lye).likely.needed_g
    lot = bench.dissolve().lot
    assert bench.row(bench.held(version), bench.solution) is not None
    close(monkeypatch)
    held = bench.held(version)
    assert bench.row(held, bench.solution) is None
    assert bench.row(held, bench.lye).likely.needed_g == pytest.approx(dry_g)
    assert [(one.lot, one.why_not) for one in bench.sheet(version)[1]] == [
        (lot, "how strong what is left of it is cannot be told safely yet: weigh dry lye")
    ]


def test_what_was_made_before_is_traced_and_booked(bench: Dissolving, monkeypatch: pytest.MonkeyPatch) -> None:
    lot, version = bench.dissolve().lot, bench.soap()
    (lye,) = bench.sheet(version)[0].lye
    close(monkeypatch)
    assert lots_with(bench.world.workshop, bench.dry) == [lot]
    batch = bench.book(bench.poured(version, lye.weigh_g), lot, 2 * lye.weigh_g)
    assert batch.superfat_by_lots
    assert 0 < batch.superfat_low < batch.superfat_middle
