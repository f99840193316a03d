"""Suppliers, stock and past use come in: whole or not at all, once, and no gram of what is on hand moves by the past."""

from collections import defaultdict
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook

from curehouse.common.errors import Conflict
from curehouse.flows.bring_in.door import FileGiven, bring_at_once, first_options
from curehouse.flows.bring_in.kinds import kind_called
from curehouse.flows.bring_in.options import Options
from curehouse.flows.bring_in.outcome import Outcome
from curehouse.intake.models import BroughtRow, Import
from curehouse.making.models import Batch, BatchHold, BatchUse
from curehouse.notices.models import Delivery, Notice
from inventory.balance import differences
from inventory.models import Count, Lot, LotRuling, Material, Movement, Supplier
from inventory.services.movements import reverse
from tests.flows.bring_in.logs import write_csv
from tests.flows.test_superfats import House, lot
from tests.world import World

pytestmark = pytest.mark.django_db

STOCK = ("Material", "Kind", "Amount", "Supplier", "Lot", "Received", "Best before", "Price", "Status")
OLIVE = ("Olive oil", "fat", "5.5 kg", "Oil & Co", "L-7", "2026-01-10", "2027-06", "33.00", "released")
LYE = ("Lye", "NaOH", "2000 g", "Caustic Ltd", "", "2026-02-01", "", "12 €", "quarantine")
LABELS = ("Labels", "packaging", "250 pcs", "", "", "", "", "", "")
USES = ("Batch", "Material", "Kind", "Lot", "Amount", "Date", "Note")


@pytest.fixture(autouse=True)
def _folder(settings: Any, tmp_path: Path) -> None:
    settings.DATA_FOLDER = tmp_path / "house"
    settings.DATA_FOLDER.mkdir()


def bring(world: World, kind: str, given: FileGiven, **told: Any) -> Outcome:
    options = first_options(world.actor, kind_called(kind), given.path, None, Options(**told))
    return bring_at_once(actor=world.actor, kind=kind, given=given, beside=None, options=options, at=world.now)


def stock(world: World, folder: Path, *rows: tuple[str, ...], **told: Any) -> Outcome:
    return bring(world, "stock", write_csv(folder / "stock.csv", STOCK, rows), **told)


def uses(world: World, folder: Path, *rows: tuple[str, ...], **told: Any) -> Outcome:
    return bring(world, "uses", write_csv(folder / "uses.csv", USES, rows), **told)


def held(world: World) -> dict[str, Decimal]:
    """Of each material with a lot, what all its lots hold (a lot taken back stays, empty)."""
    of_material: dict[str, Decimal] = defaultdict(Decimal)
    for one in Lot.objects.within(world.workshop).named():
        of_material[one.material.name] += one.on_hand
    return dict(of_material)


def nothing_is_here(world: World) -> bool:
    models = (Material, Supplier, Lot, Movement, Import, BroughtRow)
    return not any(model.objects.within(world.workshop).exists() for model in models)


def test_stock_comes_in_as_the_list_has_it(world: World, tmp_path: Path) -> None:
    outcome = stock(world, tmp_path, OLIVE, LYE, LABELS, ("Coconut oil", "fat", "0", *[""] * 6))
    assert (outcome.refused_rows, dict(outcome.adds)) == (0, {"materials": 3, "suppliers": 2, "lots": 3}), outcome.refusals
    lots = {lot.material.name: lot for lot in Lot.objects.within(world.workshop).named()}
    olive, lye, labels = lots["Olive oil"], lots["Lye"], lots["Labels"]
    assert (olive.on_hand, olive.supplier.name, olive.supplier_lot) == (Decimal("5500"), "Oil & Co", "L-7")
    assert (olive.received_on, olive.best_before, olive.standing) == (date(2026, 1, 10), date(2027, 6, 30), "released")
    assert (olive.unit_cost, lye.unit_cost) == (Decimal("0.006"), Decimal("0.006"))
    assert (lye.on_hand, lye.standing, lye.material.kind) == (Decimal("2000"), "quarantine", "lye")
    assert (labels.on_hand, labels.material.measure, labels.unit_cost, labels.supplier) == (
        Decimal("250"),
        "pieces",
        None,
        None,
    )
    assert sorted(lot.number for lot in lots.values()) == [1, 2, 3]
    assert {ruling.why for ruling in LotRuling.objects.within(world.workshop)} == {"brought in with the stock list"}
    assert {row.source for row in Movement.objects.within(world.workshop)} == {"import"}
    assert any("Nothing is left by 1 row: left out." in remark for remark in outcome.remarks)
    assert any("not said of 1 lot: taken as released" in remark for remark in outcome.remarks)
    assert differences() == []


def test_stock_is_the_same_however_it_is_written(world: World, stranger: World, tmp_path: Path) -> None:
    stock(world, tmp_path, OLIVE, LYE)
    german = (
        "Rohstoff",
        "Art",
        "Bestand",
        "Einheit",
        "Lieferant",
        "Chargennummer",
        "Eingang",
        "MHD",
        "Gesamtpreis",
        "Freigabe",
    )
    rows = [("Olive oil", "Öl", "5,5", "kg", "Oil & Co", "L-7", "10.01.2026", "06/2027", "33,00", "freigegeben"),
            ("Lye", "Lauge", "2.000", "g", "Caustic Ltd", "", "01.02.2026", "", "12,00 EUR", "Quarantäne")]  # fmt: skip
    given = write_csv(tmp_path / "bestand.csv", german, rows, delimiter=";")
    assert bring(stranger, "stock", given, date_order="dmy", decimal=",").refused_rows == 0
    book = Workbook()
    book.active.append(STOCK)
    book.active.append(["Olive oil", "fat", "5.5 kg", "Oil & Co", "L-7", date(2026, 1, 10), date(2027, 6, 30), 33, "released"])
    book.active.append(["Lye", "lye", 2000, "Caustic Ltd", None, date(2026, 2, 1), None, 12, "quarantine"])
    book.save(tmp_path / "stock.xlsx")
    there, here = (list(Lot.objects.within(one.workshop).named().order_by("number")) for one in (stranger, world))
    for mine, theirs in zip(here, there, strict=True):
        for name in ("supplier_lot", "received_on", "best_before", "unit_cost", "standing", "on_hand"):
            assert getattr(mine, name) == getattr(theirs, name), name
    again = bring(world, "stock", FileGiven("stock.xlsx", tmp_path / "stock.xlsx"))
    assert (again.adds_nothing, again.known["lots"], again.refused_rows) == (True, 2, 0), again.refusals


def test_the_same_stock_list_twice_adds_nothing_and_a_longer_one_what_is_new(world: World, tmp_path: Path) -> None:
    stock(world, tmp_path, OLIVE)
    lot = Lot.objects.within(world.workshop).get()
    Material.objects.within(world.workshop).filter(pk=lot.material_id).update(name="Olive oil, mild")
    again = stock(world, tmp_path, OLIVE)
    assert (again.adds_nothing, again.known["lots"]) == (True, 1)
    longer = stock(world, tmp_path, OLIVE, LYE)
    assert (longer.adds["lots"], longer.known["lots"]) == (1, 1)
    assert Lot.objects.within(world.workshop).count() == 2


def test_a_row_that_came_in_meanwhile_is_answered_in_words_and_nothing_is_left(
    world: World, tmp_path: Path, monkeypatch: Any
) -> None:
    unnamed = (*LYE[:2], "3 kg", *LYE[3:])
    stock(world, tmp_path, unnamed)
    monkeypatch.setattr("curehouse.flows.bring_in.stock.brought_before", lambda **_asked: set())
    with pytest.raises(Conflict, match="brought in just now: check the file again"):
        stock(world, tmp_path, OLIVE, unnamed)
    assert held(world) == {"Lye": Decimal("3000")}


def test_what_contradicts_the_stock_that_is_here_is_refused(world: World, tmp_path: Path) -> None:
    by_hand = world.lot("800", supplier_lot="H-1")
    stock(world, tmp_path, LYE)
    changed = stock(world, tmp_path, (*LYE[:2], "1500 g", *LYE[3:]))
    assert "another amount than came in with this lot before" in changed.refusals[0].why
    twice = stock(world, tmp_path, ("olive oil", "fat", "800 g", "", "h-1", "", "", "", ""))
    assert f"is here already, as {by_hand}" in twice.refusals[0].why
    other = stock(world, tmp_path, ("olive oil", "lye", "800 g", "", "h-2", "", "", "", ""))
    assert "another kind than the house knows" in other.refusals[0].why
    assert held(world) == {"Olive oil": Decimal("800"), "Lye": Decimal("2000")}


WRONG = [
    (0, "", "which material"),
    (0, "=HYPERLINK(1)", "begins like a formula"),
    (1, "", "of Olive oil is not said, and it is new here"),
    (1, "thing", "no kind of material"),
    (2, "", "how much is there"),
    (2, "much", "is no number"),
    (2, "-4 kg", "less than nothing"),
    (2, "5 l", "unit that is not known"),
    (2, "5 pieces extra", "is no number"),
    (2, "2000000 kg", "not above 0 and up to"),
    (5, "2099-01-01", "lies in the future"),
    (5, "1990-01-01", "thirty years back"),
    (5, "03/04/2026", "day first or month first"),
    (6, "2027-13", "no month of a year"),
    (6, "2099-01-01", "thirty years away"),
    (7, "-3", "not between 0 and"),
    (7, "12 ¥", "another currency than the workshop's"),
    (8, "fine", "how the lot stands"),
]


@pytest.mark.parametrize(("column", "value", "said"), WRONG)
def test_a_wrong_cell_of_a_stock_list_is_named_and_nothing_comes_in(
    world: World, tmp_path: Path, column: int, value: str, said: str
) -> None:
    wrong = list(OLIVE)
    wrong[column] = value
    outcome = stock(world, tmp_path, (*LYE[:2], "2 kg", *LYE[3:]), tuple(wrong))
    (refusal,) = outcome.refusals
    assert (refusal.row, refusal.header) == (3, STOCK[column])
    assert said in refusal.why
    assert nothing_is_here(world)


def test_an_amount_that_can_be_read_two_ways_is_asked_about(world: World, tmp_path: Path) -> None:
    two_ways = (*LYE[:2], "2,000 g", *LYE[3:])
    assert "two ways" in stock(world, tmp_path, two_ways).refusals[0].why
    assert stock(world, tmp_path, two_ways, decimal=".").refused_rows == 0
    assert held(world) == {"Lye": Decimal("2000")}


def test_pieces_are_counted_and_weights_weighed(world: World, tmp_path: Path) -> None:
    world.material("Labels", kind="packaging")
    world.material("Olive oil")
    outcome = stock(world, tmp_path, ("Labels", "", "2.5", *[""] * 6), ("Labels", "", "2 kg", "x", *[""] * 5),
                    ("Olive oil", "", "3 Stück", *[""] * 6))  # fmt: skip
    assert [one.why.split(",")[0] for one in outcome.refusals] == ["is no whole number", "is a weight", "is a number of pieces"]


def test_two_rows_of_one_lot_are_refused_whether_their_amounts_differ_or_not(world: World, tmp_path: Path) -> None:
    outcome = stock(world, tmp_path, OLIVE, (*OLIVE[:2], "1 kg", *OLIVE[3:]))
    assert "another amount of the same lot than in row 2" in outcome.refusals[0].why
    outcome = stock(world, tmp_path, OLIVE, OLIVE)
    assert outcome.refused_rows == 1
    assert "stands for the same lot as row 2: add them up, name their lot numbers, or leave one out" in outcome.refusals[0].why


def test_a_name_that_two_batches_answer_to_is_asked_about(world: World, tmp_path: Path) -> None:
    """A file's own name of a batch may be the house's number of another."""
    world.lot("5000", material=world.material("Olive oil"), received_on=date(2025, 12, 1))
    first = world.batch()
    Batch.unscoped.filter(pk=world.batch().pk).update(known_as=f"{first.number}", is_brought_in=True)
    row = ("olive oil", "", "", "1.2 kg", "2026-01-15", "")
    outcome = uses(world, tmp_path, (f"{first.number}", *row))
    assert f"may be {first} or " in outcome.refusals[0].why
    assert not BatchUse.objects.within(world.workshop).exists()


def test_the_same_amount_used_twice_in_a_day_counts_twice_and_is_remarked(world: World, tmp_path: Path) -> None:
    lot = world.lot("5000", material=world.material("Olive oil"), received_on=date(2025, 12, 1))
    row = ("", "olive oil", "", "", "1.2 kg", "2026-01-15", "")
    outcome = uses(world, tmp_path, row, row)
    assert (outcome.adds["uses"], outcome.remarks[0]) == (
        2, "Rows 2 and 3 say the same; both count. Leave one out if it was used once.",
    )  # fmt: skip
    lot.refresh_from_db()
    assert lot.on_hand == 2600
    assert uses(world, tmp_path, row, row).adds_nothing
    lot.refresh_from_db()
    assert lot.on_hand == 2600


def test_a_past_use_taken_back_takes_what_was_counted_in_for_it(world: World, tmp_path: Path) -> None:
    stock(world, tmp_path, OLIVE)
    lot = Lot.objects.within(world.workshop).get()
    uses(world, tmp_path, ("", "olive oil", "", "l-7", "1.2 kg", "2026-01-15", ""))
    use = Movement.objects.within(world.workshop).get(kind="use")
    reverse(actor=world.actor, movement=use, reason="it was another oil", at=world.now)
    before = lot.on_hand
    lot.refresh_from_db()
    assert lot.on_hand == before
    assert differences() == []


def test_a_past_use_leaves_what_a_stock_list_brought(world: World, tmp_path: Path) -> None:
    stock(world, tmp_path, OLIVE)
    batch = world.batch()
    outcome = uses(
        world, tmp_path,
        (f"{batch.number}", "olive oil", "", "l-7", "1.2 kg", "2026-01-15", ""),
        ("", "Olive oil", "", "", "300 g", "2026-01-20", "a trial"),
    )  # fmt: skip
    assert (outcome.refused_rows, dict(outcome.adds)) == (0, {"uses": 2, "lots": 0, "materials": 0}), outcome.refusals
    assert held(world) == {"Olive oil": Decimal("5500")}
    rows = Movement.objects.within(world.workshop)
    assert sorted(rows.filter(kind="use").values_list("amount", flat=True)) == [Decimal("-1200"), Decimal("-300")]
    use = BatchUse.objects.within(world.workshop).get()
    assert (use.batch_id, use.movement.amount, use.irregular) == (batch.pk, Decimal("-1200"), "")
    assert "2 uses from before a count or the day of the stock list" in outcome.remarks[0]
    (listed, again) = Count.objects.within(world.workshop).order_by("pk")
    assert (listed.counted, listed.by_list, listed.restates, listed.reason) == (5500, True, None, "as the stock list says")
    assert (again.counted, again.expected, again.restates) == (5500, 4000, listed)
    assert again.reason == "lacking by the stock list of 2026-03-10 already"
    again = uses(world, tmp_path, (f"{batch.number}", "olive oil", "", "l-7", "1200 g", "2026-01-15", ""))
    assert (again.adds_nothing, again.known["uses"]) == (True, 1)
    assert differences() == []


def test_a_use_comes_off_what_was_received_by_hand_and_what_is_over_counts_as_found(world: World, tmp_path: Path) -> None:
    world.lot("1000", supplier_lot="H-1")
    day = f"{world.now.date() - timedelta(days=3)}"
    outcome = uses(
        world, tmp_path, ("", "Olive oil", "", "H-1", "400 g", day, ""), ("", "Olive oil", "", "", "0.7 kg", day, "")
    )
    assert outcome.refused_rows == 0, outcome.refusals
    assert held(world) == {"Olive oil": Decimal(0)}
    found = Count.objects.within(world.workshop).get()
    assert (found.counted, found.expected, found.movement.amount) == (Decimal("700"), Decimal("600"), Decimal("100"))
    assert found.for_use.amount == Decimal("-700")
    assert differences() == []


def test_a_lot_that_is_gone_comes_in_with_what_was_used_of_it(world: World, tmp_path: Path) -> None:
    rows = (
        ("", "Shea butter", "fat", "S-1", "250 g", "2025-03-01", ""),
        ("", "Shea butter", "", "S-1", "50 g", "2025-02-01", ""),
    )
    outcome = uses(world, tmp_path, *rows)
    assert dict(outcome.adds) == {"uses": 2, "lots": 1, "materials": 1}, outcome.refusals
    lot = Lot.objects.within(world.workshop).named().get()
    assert (lot.on_hand, lot.supplier_lot, lot.received_on) == (0, "S-1", date(2025, 2, 1))
    more = uses(world, tmp_path, *rows, ("", "Shea butter", "", "S-1", "70 g", "2025-04-01", ""))
    assert (more.adds["uses"], more.adds["lots"], more.known["uses"]) == (1, 0, 2)
    assert held(world) == {"Shea butter": Decimal(0)}
    assert differences() == []


def test_a_use_of_what_was_not_in_order_wants_a_note_and_holds_the_batch(world: World, tmp_path: Path) -> None:
    batch = world.batch()
    stock(world, tmp_path, (*OLIVE[:-1], "quarantine"))
    row = (f"{batch}", "Olive oil", "", "L-7", "1 kg", "2026-01-15")
    outcome = uses(world, tmp_path, (*row, ""))
    assert "say in a note why it was used all the same" in outcome.refusals[0].why
    assert uses(world, tmp_path, (*row, "nothing else was there")).refused_rows == 0
    hold = BatchHold.objects.within(world.workshop).get()
    assert (hold.batch_id, hold.reason) == (batch.pk, "nothing else was there")


@pytest.mark.parametrize(
    ("column", "value", "said"),
    [
        (0, "no such", "is no batch here"),
        (1, "", "which material"),
        (4, "0", "not above 0"),
        (5, "2099-01-01", "lies in the future"),
        (5, "", "when it was used"),
        (5, "2026-01-01", "comes before"),
    ],
)
def test_a_wrong_use_is_named_and_nothing_is_booked(world: World, tmp_path: Path, column: int, value: str, said: str) -> None:
    stock(world, tmp_path, OLIVE)
    wrong = ["", "Olive oil", "", "L-7", "100 g", "2026-01-15", ""]
    wrong[column] = value
    outcome = uses(world, tmp_path, ("", "Olive oil", "", "L-7", "200 g", "2026-01-15", ""), tuple(wrong))
    (refusal,) = outcome.refusals
    assert (refusal.row, refusal.header) == (3, USES[column])
    assert said in refusal.why
    assert not Movement.objects.within(world.workshop).filter(kind="use").exists()


def test_suppliers_come_in_once_and_those_that_are_here_stay(world: World, tmp_path: Path) -> None:
    headers = ("Lieferant", "Telefon", "E-Mail", "Notiz")
    oil, lye = ("Oil & Co", "+49 (0) 89 123", "hello@oil.example", "closed in May"), ("Caustic Ltd", "", "", "")
    outcome = bring(world, "suppliers", write_csv(tmp_path / "a.csv", headers, [oil, lye, lye]))
    assert (outcome.refused_rows, outcome.adds["suppliers"]) == (0, 2), outcome.refusals
    row = Supplier.objects.within(world.workshop).get(name="Oil & Co")
    assert (row.contact, row.note) == ("+49 (0) 89 123, hello@oil.example", "closed in May")
    again = bring(world, "suppliers", write_csv(tmp_path / "a.csv", headers, [("oil & co", "1", "", ""), lye]))
    assert (again.adds_nothing, again.known["suppliers"]) == (True, 2)
    assert "Oil & Co is here with other words and stays as it is." in again.remarks
    row.refresh_from_db()
    assert row.contact.startswith("+49")
    wrong = bring(
        world, "suppliers", write_csv(tmp_path / "a.csv", headers, [("X", "1", "", ""), ("x", "2", "", ""), ("", "3", "", "")])
    )
    assert [one.row for one in wrong.refusals] == [3, 4]
    assert not Supplier.objects.within(world.workshop).filter(name="X").exists()


def test_stock_tells_nobody_of_the_past_and_stays_in_its_workshop(world: World, stranger: World, tmp_path: Path) -> None:
    expired = (*OLIVE[:6], "2026-02", *OLIVE[7:])
    assert stock(world, tmp_path, expired).refused_rows == 0
    assert stock(stranger, tmp_path, expired).adds["lots"] == 1
    for one in (world, stranger):
        assert not Notice.objects.within(one.workshop).exists()
        assert not Delivery.objects.within(one.workshop).exists()
        assert held(one) == {"Olive oil": Decimal("5500")}


def test_the_units_that_headers_name_are_those_of_amounts_and_prices(world: World, tmp_path: Path) -> None:
    given = write_csv(tmp_path / "s.csv", ("Material", "Kind", "Menge (kg)", "Preis (EUR/kg)"), [("Lard", "fat", "5", "4,20")])
    outcome = bring(world, "stock", given)
    assert outcome.refused_rows == 0, outcome.refusals
    lot = Lot.objects.within(world.workshop).get()
    assert (lot.on_hand, lot.unit_cost) == (5000, Decimal("0.0042"))


def test_the_same_lot_number_of_another_supplier_is_another_lot(world: World, tmp_path: Path) -> None:
    stock(world, tmp_path, OLIVE)
    outcome = stock(world, tmp_path, (*OLIVE[:3], "Brook Mill", *OLIVE[4:]))
    assert (outcome.refused_rows, outcome.adds["lots"]) == (0, 1)


def test_a_past_use_of_another_lye_lot_makes_the_check_a_condition(world: World, tmp_path: Path) -> None:
    house = House(world)
    batch, pure = house.pour(), lot(world, house.lye, ("Purity", "99.5"))
    told = (f"{batch.number}", "Sodium hydroxide", "NaOH", f"{pure.number}", "150.5 g", "2026-03-09", "")
    outcome = uses(world, tmp_path, told)
    assert (outcome.refused_rows, outcome.adds["uses"]) == (0, 1), outcome.refusals
    after = Batch.objects.within(world.workshop).get(pk=batch.pk)
    assert (after.needs_check, after.superfat_by_lots) == (True, True)
    assert Notice.objects.within(world.workshop).filter(kind="caustic", state="open").exists()


def test_a_longer_list_of_uses_comes_in_though_a_material_of_it_has_another_name_by_now(world: World, tmp_path: Path) -> None:
    first = ("", "Olive oil", "fat", "", "500 g", "2026-02-01", "")
    uses(world, tmp_path, first)
    Material.objects.within(world.workshop).update(name="Olive oil, mild")
    longer = uses(world, tmp_path, first, ("", "Lye", "lye", "", "50 g", "2026-02-02", ""))
    assert (longer.adds["uses"], longer.known["uses"], longer.refused_rows) == (1, 1, 0)
