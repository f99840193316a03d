"""Two files that come into one workshop at once."""

from functools import partial
from pathlib import Path
from typing import Any

import pytest

from curehouse.flows.bring_in.door import FileGiven, bring_at_once, first_options
from curehouse.flows.bring_in.kinds import kind_called
from curehouse.flows.bring_in.options import Options
from curehouse.flows.bring_in.outcome import Outcome
from inventory.models import Lot, Material
from tests.arena import Arena
from tests.flows.bring_in.logs import write_csv
from tests.world import World

COLUMNS = ("Material", "Kind", "Amount", "Lot")


@pytest.fixture(autouse=True)
def _folder(settings: Any, tmp_path: Path) -> None:
    settings.DATA_FOLDER = tmp_path / "house"
    settings.DATA_FOLDER.mkdir()


def bring(world: World, given: FileGiven) -> Outcome:
    options = first_options(world.actor, kind_called("stock"), given.path, None, Options())
    return bring_at_once(actor=world.actor, kind="stock", given=given, beside=None, options=options, at=world.now)


def test_two_lists_that_name_the_same_new_materials_both_come_in(arena: Arena, tmp_path: Path) -> None:
    world = arena.do(World)
    arena.do(partial(world.lot, "100"))

    def stock_list(name: str, materials: list[str]) -> FileGiven:
        rows = [(material, "fat", "900 g", f"{name}-{number}") for number, material in enumerate(materials)]
        return write_csv(tmp_path / f"{name}.csv", COLUMNS, rows)

    # Each names first what the other names last.
    oils = ["Olive oil", *(f"Oil {number}" for number in range(40))]
    outcomes = arena.race(partial(bring, world, stock_list("A", oils)), partial(bring, world, stock_list("B", oils[::-1])))
    assert [(type(one), getattr(one, "refused_rows", one)) for one in outcomes] == [(Outcome, 0)] * 2
    assert arena.do(lambda: Material.objects.within(world.workshop).count()) == len(oils)
    assert arena.do(lambda: Lot.objects.within(world.workshop).count()) == 2 * len(oils) + 1
