"""Batches that were there before formulas had versions, and before their alkalis stood apart, come through whole."""

from collections.abc import Sequence
from datetime import UTC, datetime, time
from decimal import Decimal
from typing import Any

from curehouse.making.models import Batch
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
