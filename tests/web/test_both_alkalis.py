"""Sodium and potassium hydroxide stand apart wherever the lye of a batch is typed or shown."""

from decimal import Decimal

import pytest

from curehouse.making.models import Batch, FormulaVersion
from curehouse.making.services.formulas import write_formula
from tests.api.device import Device
from tests.formulas import FATS, formula_entry, liquid
from tests.web.bench_typing import enter as enter_by_hand
from tests.web.on_round import text_of
from tests.web.test_formula_sizes import begin, enter
from tests.web.test_lists import as_csv
from tests.web.visitor import Visitor
from tests.world import World

WATER = liquid("water", "320")
pytestmark = pytest.mark.django_db


@pytest.fixture
def device(world: World) -> Device:
    return Device(world)


@pytest.fixture
def visitor(world: World) -> Visitor:
    return Visitor(world)


def version(world: World, naoh_share: str) -> FormulaVersion:
    entry = formula_entry(naoh_share=Decimal(naoh_share), koh_purity=Decimal("0.9"), lines=(*FATS, WATER))
    return write_formula(actor=world.actor, entry=entry, at=world.now)


def the_batch(world: World) -> Batch:
    return Batch.objects.within(world.workshop).get()


def test_a_mixed_lye_is_typed_and_shown_apart(world: World, visitor: Visitor) -> None:
    sent = begin(visitor, version(world, "0.6"))
    # Of 3.5175 mol at 6 %: 60 % as 39.997 g/mol, 40 % as 56.106 g/mol of 90 %; never rounded up.
    assert (sent["lye_g"], sent["koh_g"]) == ("84.4", "87.7")
    assert enter(visitor, sent).status_code == 302
    batch = the_batch(world)
    assert (batch.lye_g, batch.koh_g, batch.naoh_g) == (Decimal("172.1"), Decimal("87.7"), Decimal("84.4"))
    assert batch.superfat_middle is not None and Decimal("0.06") <= batch.superfat_middle < Decimal("0.062")
    words = visitor.words("batch", batch.pk)
    assert "Sodium hydroxide (NaOH) 84.4 g" in words
    assert "Potassium hydroxide (KOH) 87.7 g" in words


def test_it_matters_which_of_the_two_was_weighed(world: World, visitor: Visitor) -> None:
    sent = begin(visitor, version(world, "0.6"))
    # As many grams in all, more of them the one that brings more alkali a gram.
    asked = text_of(enter(visitor, sent, lye_g="124.4", koh_g="47.7"))
    assert "124.4 g NaOH and 47.7 g KOH of lye is more than these fats can take" in asked
    assert "have 84.4 g NaOH and 87.7 g KOH" in asked
    assert "Take 84.4 g NaOH and 87.7 g KOH" in asked
    assert enter(visitor, sent, lye_g="124.4", koh_g="47.7", take_lye="84.4;87.7").status_code == 302
    assert (the_batch(world).koh_g, the_batch(world).lye_confirmed) == (Decimal("87.7"), False)


def test_what_was_confirmed_is_confirmed_of_both(world: World, visitor: Visitor) -> None:
    sent = begin(visitor, version(world, "0.6")) | {"lye_g": "124.4", "koh_g": "47.7"}
    assert enter(visitor, sent, lye_confirmed="172.100").status_code == 200
    assert enter(visitor, sent, lye_confirmed="172.100;47.700").status_code == 302
    assert the_batch(world).lye_confirmed


def test_a_formula_of_koh_alone_begins_and_is_kept_as_koh(world: World, visitor: Visitor) -> None:
    sent = begin(visitor, version(world, "0"))
    assert (sent["lye_g"], sent["koh_g"]) == ("", "219.2")
    assert enter(visitor, sent).status_code == 302
    batch = the_batch(world)
    assert (batch.lye_g, batch.koh_g) == (Decimal("219.2"), Decimal("219.2"))
    words = visitor.words("batch", batch.pk)
    assert "Potassium hydroxide (KOH) 219.2 g" in words
    assert "Sodium hydroxide" not in words
    again = begin(visitor, batch.version, like=batch)
    assert (again["lye_g"], again["koh_g"]) == ("", "219.2")


def test_koh_in_a_soap_of_naoh_is_no_naoh(world: World, visitor: Visitor) -> None:
    sent = begin(visitor, version(world, "1"))
    assert (sent["lye_g"], sent["koh_g"]) == ("140.6", "")
    assert enter(visitor, sent, lye_g="100.6", koh_g="40", lye_confirmed="140.600;40.000").status_code == 302
    # Its purity is not known, so neither is the superfat, and the check is a condition.
    batch = the_batch(world)
    assert (batch.superfat_middle, batch.needs_check) == (None, True)


def test_by_hand_each_counts_as_what_it_is(world: World, visitor: Visitor) -> None:
    # 2000 g of fats: 378 g of lye is over what any fats take as NaOH, and usual as KOH.
    assert "more than soap takes" in text_of(enter_by_hand(visitor.client, lye_g="398"))
    assert enter_by_hand(visitor.client, lye_g="", koh_g="398").status_code == 302
    batch = the_batch(world)
    assert (batch.lye_g, batch.koh_g) == (398, 398)


def test_lye_is_asked_for(visitor: Visitor) -> None:
    assert "The mass of lye is missing" in text_of(enter_by_hand(visitor.client, lye_g="", koh_g=""))


def test_the_list_holds_them_apart(world: World, visitor: Visitor) -> None:
    enter(visitor, begin(visitor, version(world, "0.6")))
    head, line = as_csv(visitor, "batches")
    row = dict(zip(head, line, strict=True))
    assert (row["Lye, g"], row["NaOH of it, g"], row["KOH of it, g"]) == ("172.1", "84.4", "87.7")


def test_the_api_holds_them_apart(world: World, device: Device) -> None:
    one = version(world, "0.6")
    sent = {
        "version": one.pk,
        "poured_at": world.now.isoformat(),
        "fats_g": "1000",
        "lye_g": "172.1",
        "koh_g": "87.7",
        "liquids": [{"kind": "water", "mass_g": "320"}],
    }
    answer = device.post("batches/", sent)
    assert answer.status_code == 201, answer.json()
    assert (answer.json()["naoh_g"], answer.json()["koh_g"]) == ("84.400", "87.700")
    answer = device.post("batches/", {**sent, "koh_g": "180"})
    assert (answer.status_code, answer.json()["code"]) == (400, "koh")
    # Nobody said how much is which: as the formula shares them out, and not told as known.
    del sent["koh_g"]
    assert device.post("batches/", sent).json()["koh_g"] is None
