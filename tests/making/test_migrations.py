"""Batches and runs that were there before formulas had versions, alkalis stood apart and runs were noted whole come through."""

from collections.abc import Sequence
from datetime import UTC, datetime, time
from decimal import Decimal
from typing import Any

from curehouse.making.models import Batch, Reservation, Run, Unasked
from tests.arena import Arena
from tests.common.test_guards import guards_in_words
from tests.history import to, to_the_newest

WHEN = datetime(2026, 3, 1, 12, tzinfo=UTC)


def written(old: Any, number: int, formula: Any, **more: Any) -> Any:
    """Write a batch with the models of its time."""
    values: dict[str, Any] = {
        "workshop": formula.workshop, "formula": formula, "number": number, "state": "poured", "poured_at": WHEN,
        "written_at": WHEN, "fats_g": Decimal(1000), "lye_g": Decimal("140.6"), "water_share_computed": Decimal("0.2"),
    }  # fmt: skip
    return old.get_model("making", "Batch")._base_manager.create(**{**values, **more})


def formula_of(old: Any) -> Any:
    workshop = old.get_model("workshops", "Workshop")._base_manager.create(
        name="Fennelyard", time_zone="Europe/Berlin", currency="EUR", round_days=[0], morning_at=time(7), created_at=WHEN
    )
    return old.get_model("making", "Formula")._base_manager.create(workshop=workshop, name="Goat")


def kept() -> Sequence[Batch]:
    return list(Batch.unscoped.select_related("formula").order_by("number"))


def by_hand() -> None:
    """Write batches of the time when a formula was a name."""
    old = to(("making", "0006_brought_in"))
    assert "version" not in {field.name for field in old.get_model("making", "Batch")._meta.get_fields()}
    formula = formula_of(old)
    batch = written(old, 1, formula, lye_confirmed=True, note="by hand")
    old.get_model("making", "BatchLiquid")._base_manager.create(
        workshop=formula.workshop, batch=batch, kind="goat_milk", mass_g=320, water_fraction=Decimal("0.8703")
    )
    written(old, 2, formula, is_brought_in=True, known_as="A7", fats_g=None, lye_g=None, water_share_computed=None,
            water_share_stated=Decimal("0.3"))  # fmt: skip


def of_versions() -> None:
    """Write batches of versions with either alkali and with both."""
    old = to(("making", "0009_liquids_of_ones_own"))
    formula = old.get_model("making", "Formula")._base_manager.get()
    versions = old.get_model("making", "FormulaVersion")._base_manager
    for number, share in enumerate(("1", "0", "0.6"), start=3):
        version = versions.create(
            workshop=formula.workshop, formula=formula, number=number, revision=1, fats_g=1000, liquid_g=320,
            superfat=Decimal("0.05"), naoh_share=Decimal(share), front_c=25, written_at=WHEN,
        )  # fmt: skip
        written(old, number, formula, version=version)


def test_batches_come_through_the_coming_of_versions_and_of_alkalis_apart(arena: Arena) -> None:
    guards = arena.do(guards_in_words)
    arena.do(by_hand)
    arena.do(of_versions)
    arena.do(to_the_newest)
    hand, brought, *of_version = arena.do(kept)
    assert (hand.formula.name, hand.version_id, hand.fats_g, hand.lye_g) == ("Goat", None, 1000, Decimal("140.6"))
    assert (hand.lye_confirmed, hand.needs_check, hand.note, hand.koh_g) == (True, False, "by hand", None)
    assert arena.do(lambda: [(one.kind, one.mass_g) for one in hand.liquids.all()]) == [("goat_milk", 320)]
    assert (brought.known_as, brought.fats_g, brought.koh_g, brought.superfat_effective) == ("A7", None, None, None)
    # Where its formula has one alkali only it is known which; of both nobody said.
    assert [one.koh_g for one in of_version] == [0, Decimal("140.6"), None]
    # The guards stand as they stood, and on the way back and here again no row is lost.
    assert arena.do(guards_in_words) == guards
    arena.do(lambda: to(("making", "0009_liquids_of_ones_own")))
    arena.do(to_the_newest)
    assert [(one.number, one.koh_g) for one in arena.do(kept)][2:] == [(3, 0), (4, Decimal("140.6")), (5, None)]


def with_runs() -> None:
    """Write runs of the time when nobody noted what the storeroom could not be asked for: planned, called off, poured."""
    old = to(("making", "0012_planned_runs"), ("inventory", "0011_proposals"))
    assert "unasked" not in {field.name for field in old.get_model("making", "Run")._meta.get_fields()}
    formula = formula_of(old)
    house = formula.workshop
    rows = {name: old.get_model(*name.split("."))._base_manager for name in (
        "making.FormulaVersion", "making.Run", "making.RunChange", "making.Reservation", "inventory.Material",
    )}  # fmt: skip
    version = rows["making.FormulaVersion"].create(
        workshop=house, formula=formula, number=1, revision=1, fats_g=1000, liquid_g=320, superfat=Decimal("0.05"),
        naoh_share=Decimal(1), front_c=25, written_at=WHEN,
    )  # fmt: skip
    oil, lye = (
        rows["inventory.Material"].create(workshop=house, name=name, kind=kind, measure="grams")
        for name, kind in (("Olive oil", "fat"), ("Lye", "lye"))
    )
    for fats_g, (state, takes) in enumerate(
        [("planned", (oil, lye)), ("planned", (oil,)), ("planned", ()), ("called_off", (oil,)), ("poured", ())], start=1001
    ):
        batch = written(old, 1, formula, version=version) if state == "poured" else None
        run = rows["making.Run"].create(
            workshop=house, formula=formula, version=version, state=state, batch=batch, fats_g=fats_g, pour_on=WHEN.date(),
            announced_on=WHEN.date(), written_at=WHEN,
        )  # fmt: skip
        rows["making.RunChange"].create(workshop=house, run=run, what="planned", pour_on=WHEN.date(), at=WHEN)
        for material in takes:
            rows["making.Reservation"].create(workshop=house, run=run, material=material, amount_g=Decimal("700.125"))


def runs_kept() -> list[tuple[Any, ...]]:
    runs = Run.unscoped.order_by("fats_g")
    return [(int(run.fats_g), run.state, run.not_kept, sorted(_taken(run)), _said(run)) for run in runs]


def _taken(run: Run) -> list[tuple[str, Decimal]]:
    return [(row.material.name, row.amount_g) for row in run.reservations.select_related("material")]


def _said(run: Run) -> list[tuple[Any, ...]]:
    return [(row.what, row.fats_g, row.version_id) for row in run.changes.all()]


def test_runs_come_through_the_noting_of_what_the_storeroom_could_not_be_asked_for(arena: Arena) -> None:
    guards = arena.do(guards_in_words)
    arena.do(with_runs)
    arena.do(to_the_newest)
    # Only of what is planned it is said that no lye is told, where none is reserved; who noted what of it, nobody knows.
    said, untold, taken = [("planned", None, None)], [Unasked("lye", None, is_kept=False, is_lye=True)], Decimal("700.125")
    whole = [
        (1001, "planned", [], [("Lye", taken), ("Olive oil", taken)], said),
        (1002, "planned", untold, [("Olive oil", taken)], said),
        (1003, "planned", untold, [], said),
        (1004, "called_off", [], [("Olive oil", taken)], said),
        (1005, "poured", [], [], said),
    ]
    assert arena.do(runs_kept) == whole
    assert arena.do(guards_in_words) == guards
    arena.do(lambda: to(("making", "0012_planned_runs")))
    arena.do(to_the_newest)
    assert arena.do(runs_kept) == whole


def with_room_for_dissolved_lye() -> None:
    """Write planned runs of the time when water in front had room for dissolved lye also where a sheet refuses it."""
    old = to(("making", "0015_lye_dissolved_beforehand"), ("inventory", "0013_blends"))
    formula = formula_of(old)
    house = formula.workshop
    rows = {name: old.get_model(*name.split("."))._base_manager for name in (
        "making.FormulaVersion", "making.Run", "making.Reservation", "inventory.Material",
    )}  # fmt: skip
    lye = rows["inventory.Material"].create(workshop=house, name="Lye", kind="lye", measure="grams")
    kinds: tuple[dict[str, Any], ...] = ({"front_c": 25}, {"front_c": 15}, {"front_c": 25, "naoh_purity": Decimal("0.97")})
    for number, more in enumerate(kinds, start=1):
        version = rows["making.FormulaVersion"].create(
            workshop=house, formula=formula, number=number, revision=1, fats_g=1000, liquid_g=320, superfat=Decimal("0.05"),
            naoh_share=Decimal(1), written_at=WHEN, **more,
        )  # fmt: skip
        run = rows["making.Run"].create(
            workshop=house, formula=formula, version=version, state="planned", fats_g=1000, pour_on=WHEN.date(),
            announced_on=WHEN.date(), written_at=WHEN,
        )  # fmt: skip
        rows["making.Reservation"].create(workshop=house, run=run, material=lye, amount_g=130, water_g=320)


def test_no_run_keeps_room_for_dissolved_lye_that_its_sheet_refuses(arena: Arena) -> None:
    guards = arena.do(guards_in_words)
    arena.do(with_room_for_dissolved_lye)
    arena.do(to_the_newest)
    rows = arena.do(lambda: list(Reservation.unscoped.order_by("run__version__number").values_list("amount_g", "water_g")))
    assert rows == [(130, 320), (130, 0), (130, 0)]
    assert arena.do(guards_in_words) == guards
