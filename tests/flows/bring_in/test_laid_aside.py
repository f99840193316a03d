"""Lists of every kind come in the same whether what they say is held or laid aside on disk, a few rows at a time."""

import errno
import random
import sqlite3
from collections.abc import Sequence
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from curehouse.common.full_disk import NoRoom
from curehouse.flows.bring_in import laid_aside
from curehouse.flows.bring_in.door import bring_at_once, check_at_once, first_options
from curehouse.flows.bring_in.kinds import kind_called
from curehouse.flows.bring_in.laid_aside import Kept, Spool
from curehouse.flows.bring_in.options import Options
from curehouse.flows.bring_in.outcome import Outcome
from curehouse.intake.models import BroughtRow, Import
from curehouse.making.models import BatchHold, BatchUse, Formula
from inventory.balance import differences
from inventory.models import Count, Lot, LotRuling, Material, Movement, Supplier
from tests.flows.bring_in.logs import write_csv
from tests.world import World

pytestmark = pytest.mark.django_db

Row = tuple[str, ...]
HEADERS: dict[str, Row] = {
    "suppliers": ("Supplier", "Contact", "Note"),
    "materials": ("Material", "Kind", "Allergen"),
    "formulas": ("Formula", "What goes in", "It is", "Amount", "Goes in", "Superfat, %"),
    "stock": ("Material", "Kind", "Amount", "Supplier", "Lot", "Received", "Price", "Status"),
    "uses": ("Batch", "Material", "Kind", "Lot", "Amount", "Date", "Note"),
}


def house_of_lists() -> dict[str, list[Row]]:
    """Return lists of a small house: some rows twice, formulas whose rows lie apart, lots that are gone."""
    chance, began = random.Random(7), date(2025, 3, 1)
    suppliers = [(f"Mill {n}", f"mill{n}@example.org", "" if n % 3 else "slow in August") for n in range(23)]
    materials = [(f"Oil {n}", "fat", "nuts" if n % 5 == 0 else "") for n in range(17)]
    formulas: list[Row] = [(f"Bar {n}", "Olive oil", "fat", f"{700 + n} g", "", "5") for n in range(9)]
    formulas += [(f"bar {n}", "Water", "liquid", f"{230 + n} g", "front", "") for n in range(9)]
    stock = [
        (
            f"Oil {n % 17}",
            "fat",
            f"{5 + n}.5 kg",
            f"Mill {n % 29}",
            f"L-{n}",
            f"{began + timedelta(days=n)}",
            "9.90",
            "released",
        )
        for n in range(41)
    ]
    uses = [
        (
            "",
            f"Oil {n % 17}",
            "fat",
            f"L-{n}" if n % 3 else f"gone {n % 5}",
            f"{200 + n} g",
            f"{began + timedelta(days=60 + n)}",
            "",
        )
        for n in range(60)
    ]
    chance.shuffle(uses)
    lists = {"suppliers": suppliers, "materials": materials, "formulas": formulas, "stock": stock, "uses": uses}
    return lists | {kind: [*lists[kind], lists[kind][0]] for kind in ("suppliers", "materials", "uses")}


def bring(world: World, folder: Path, kind: str, rows: Sequence[Row]) -> Outcome:
    given = write_csv(folder / f"{kind}.csv", HEADERS[kind], rows)
    options = first_options(world.actor, kind_called(kind), given.path, None, Options())
    return bring_at_once(actor=world.actor, kind=kind, given=given, beside=None, options=options, at=world.now)


def told_of(world: World) -> list[Any]:
    """Return what came in, without what numbers rows of the database."""
    within, lines = world.workshop, ("versions__lines__name", "versions__lines__amount")
    lot = ("supplier__name", "supplier_lot", "received_on", "unit_cost", "on_hand", "standing")
    moved = ("lot__number", "kind", "amount", "moment", "reason")
    return [
        list(Supplier.objects.within(within).order_by("name").values_list("name", "contact", "note")),
        list(Material.objects.within(within).order_by("name").values_list("name", "kind", "measure", "facts__allergen")),
        list(Formula.objects.within(within).order_by("pk").values_list("name", *lines)),
        list(Lot.objects.within(within).order_by("number").values_list("number", "material__name", *lot)),
        # Of several lots that move in one part all move before any count is held against the book anew.
        list(Movement.objects.within(within).order_by("lot", "pk").values_list(*moved)),
        list(Count.objects.within(within).order_by("lot", "pk").values_list("lot__number", "counted", "expected", "moment")),
        sorted(BroughtRow.objects.within(within).values_list("kind", "key")),
    ]


def everything(world: World, folder: Path) -> tuple[list[Outcome], list[Any]]:
    folder.mkdir()
    return [bring(world, folder, kind, rows) for kind, rows in house_of_lists().items()], told_of(world)


@pytest.fixture(autouse=True)
def _folder(settings: Any, tmp_path: Path) -> None:
    settings.DATA_FOLDER = tmp_path / "house"
    settings.DATA_FOLDER.mkdir()


def test_lists_come_in_the_same_held_or_laid_aside(
    world: World, stranger: World, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    held = everything(world, tmp_path / "held")
    monkeypatch.setattr(laid_aside, "ROWS_HELD", 5)
    monkeypatch.setattr(laid_aside, "ROWS_AT_ONCE", 4)
    spooled: list[Spool[Any]] = []
    lay_aside = Spool._lay_aside
    monkeypatch.setattr(Spool, "_lay_aside", lambda self: (spooled.append(self), lay_aside(self))[1])
    laid = everything(stranger, tmp_path / "laid")
    assert spooled, "nothing was laid aside"
    assert [one.refused_rows for one in held[0]] == [0] * 5, [one.refusals for one in held[0]]
    assert [one.adds for one in held[0]][3]["lots"] == 41
    assert held == laid
    assert differences() == []
    again = [bring(stranger, tmp_path, kind, rows) for kind, rows in house_of_lists().items()]
    assert [(one.adds_nothing, one.refused_rows) for one in again] == [(True, 0)] * 5
    assert told_of(stranger) == laid[1]


def test_what_is_refused_is_named_by_its_cell_when_laid_aside_too(
    world: World, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(laid_aside, "ROWS_HELD", 2)
    monkeypatch.setattr(laid_aside, "ROWS_AT_ONCE", 2)
    rows = [*house_of_lists()["stock"], ("Oil 3", "fat", "5 kg", "Mill 3", "L-3", f"{date(2025, 3, 4)}", "9.90", "released")]
    rows.append(("Oil 4", "lye", "5 kg", "", "L-90", "2031-01-01", "", ""))
    outcome = bring(world, tmp_path, "stock", rows)
    assert [(one.cell, one.value) for one in outcome.refusals] == [("C43", "5 kg"), ("F44", "2031-01-01")]
    assert "row 5" in outcome.refusals[0].why
    assert not Import.objects.within(world.workshop).exists() and not Lot.objects.within(world.workshop).exists()
    assert not LotRuling.unscoped.exists() and not BatchUse.unscoped.exists() and not BatchHold.unscoped.exists()


def test_things_come_back_as_often_as_wanted_sorted_where_they_say_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(laid_aside, "ROWS_HELD", 10)
    monkeypatch.setattr(laid_aside, "ROWS_AT_ONCE", 3)
    plain: Spool[int] = Spool()
    by: Spool[tuple[int, Decimal]] = Spool()
    chance = random.Random(1)
    things = [(chance.randrange(5), Decimal(n)) for n in range(100)]
    for count, thing in enumerate(things, 1):
        plain.add(count)
        by.add(thing, by=f"{thing[0]}")
        assert len(plain) == count
        if count in (4, 10, 11, 12, 99):
            assert list(plain) == list(range(1, count + 1))
            assert [one for part in by.parts() for one in part] == sorted(things[:count], key=lambda one: one[0])
    assert [len(part) for part in plain.parts()] == [3] * 33 + [1]


def test_a_mapping_keeps_the_first_and_the_order_of_its_keys() -> None:
    kept: Kept[int] = Kept()
    assert [kept.setdefault(key, number) for number, key in enumerate("banana")] == [0, 1, 2, 1, 2, 1]
    kept.change("a", 9)
    assert (kept["a"], len(kept)) == (9, 3)
    assert [one for part in kept.parts() for one in part] == [("b", 0), ("a", 9), ("n", 2)]
    with pytest.raises(KeyError):
        kept["z"]


def test_a_full_disk_is_said_in_words_and_leaves_nothing(world: World, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    class Full:
        def execute(self, *_asked: object) -> None:
            raise sqlite3.OperationalError("database or disk is full") from OSError(errno.ENOSPC, "No space left on device")

        def close(self) -> None:
            pass

    monkeypatch.setattr(laid_aside, "ROWS_HELD", 2)
    monkeypatch.setattr(laid_aside, "ROWS_AT_ONCE", 2)
    monkeypatch.setattr(laid_aside, "nameless_file", lambda *_made: Full())
    given = write_csv(tmp_path / "stock.csv", HEADERS["stock"], house_of_lists()["stock"])
    options = first_options(world.actor, kind_called("stock"), given.path, None, Options())
    with pytest.raises(NoRoom):
        check_at_once(actor=world.actor, kind="stock", given=given, beside=None, options=options, at=world.now)
    with pytest.raises(NoRoom):
        bring_at_once(actor=world.actor, kind="stock", given=given, beside=None, options=options, at=world.now)
    assert not Material.objects.within(world.workshop).exists()
