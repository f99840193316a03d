"""What a table says of its figures beside them: units in headers and number formats, gaps, currencies. None is overlooked."""

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook

from curehouse.flows.bring_in.cells import CellFault, Cells
from curehouse.flows.bring_in.door import FileGiven, bring_at_once, first_options
from curehouse.flows.bring_in.header_units import Holds, unit_in
from curehouse.flows.bring_in.kinds import kind_called
from curehouse.flows.bring_in.options import Options
from curehouse.flows.bring_in.outcome import Outcome
from curehouse.making.models import Batch, FormulaLine, MaterialFacts
from inventory.models import Lot, Material
from tests.flows.bring_in.logs import write_csv
from tests.world import World

pytestmark = pytest.mark.django_db
LOG = ("batch", "formula", "bar", "cut", "day", "weight")
LOGGED = ("F1", "Fern", "A", "2024-01-02", "7", "120.5")


@pytest.fixture(autouse=True)
def _folder(settings: Any, tmp_path: Path) -> None:
    settings.DATA_FOLDER = tmp_path / "house"
    settings.DATA_FOLDER.mkdir()


def bring(world: World, kind: str, given: FileGiven, columns: dict[int, str] | None = None, **told: Any) -> Outcome:
    options = first_options(world.actor, kind_called(kind), given.path, None, Options(**told))
    if columns:
        options = options.with_columns({**options.table.columns, **columns})
    return bring_at_once(actor=world.actor, kind=kind, given=given, beside=None, options=options, at=world.now)


def stock(world: World, folder: Path, header: str, amount: str, **told: Any) -> Outcome:
    rows = [("Olive oil", "fat", amount)]
    return bring(world, "stock", write_csv(folder / "stock.csv", ("Material", "Kind", header), rows), **told)


def priced(world: World, folder: Path, header: str, price: str, *, amount: str = "2 kg", **told: Any) -> Outcome:
    rows = [("Olive oil", "fat", amount, price)]
    given = write_csv(folder / "stock.csv", ("Material", "Kind", "Amount", header), rows)
    return bring(world, "stock", given, **told)


def log_with(world: World, folder: Path, header: str, value: str, columns: dict[int, str] | None = None) -> Outcome:
    given = write_csv(folder / "log.csv", (*LOG, header), [(*LOGGED, value)])
    return bring(world, "batches", given, columns, water_share="" if columns and "water_share" in columns.values() else "31 %")


def sheet(folder: Path, headers: Sequence[str], row: Sequence[Any], formats: dict[int, str]) -> FileGiven:
    book = Workbook()
    book.active.append(headers)
    book.active.append(row)
    for index, number_format in formats.items():
        book.active.cell(2, index + 1).number_format = number_format
    book.save(folder / "table.xlsx")
    return FileGiven("table.xlsx", folder / "table.xlsx")


def why(outcome: Outcome) -> str:
    return " ".join(one.why for one in outcome.refusals)


def on_hand(world: World) -> Decimal:
    return Lot.objects.within(world.workshop).get().on_hand


@pytest.mark.parametrize(
    ("header", "unit"),
    [
        ("Amount (L)", "l"), ("Amount (t)", "t"), ("Amount (ml)", "ml"), ("Amount ml", "ml"), ("Amount (fl oz)", "floz"),
        ("Amount (fl. oz.)", "floz"), ("Amount fl oz", "floz"), ("Amount (hl)", "hl"), ("Amount (xy)", "xy"),
        ("Menge (in Liter)", "liter"), ("Amount (%)", "%"), ("Amount (100 g)", "100 g"), ("Amount (g/kg)", "g kg"),
        ("Amount (g or oz)", "g oz"),
    ],
)  # fmt: skip
def test_a_header_with_a_unit_that_gives_no_mass_is_refused(world: World, tmp_path: Path, header: str, unit: str) -> None:
    outcome = bring(
        world, "stock", write_csv(tmp_path / "s.csv", ("Material", "Kind", header), [("Oil", "fat", "5")]), {2: "amount"}
    )
    assert unit_in(header, Holds.AMOUNT) == unit
    assert f"has a unit that is not known, “{unit}”: use g, kg, oz, lb or pieces" in why(outcome)
    assert not Material.objects.within(world.workshop).exists()


@pytest.mark.parametrize(
    ("header", "amount", "grams"),
    [
        ("Amount (kg)", "5", "5000"), ("Amount in kg", "5", "5000"), ("Amount_g", "5", "5"), ("Menge (netto)", "5", "5"),
        ("Amount (net, kg)", "5", "5000"), ("Amount (L)", "5 kg", "5000"), ("Amount (on hand)", "5", "5"),
        ("Amount", "12 500", "12500"), ("Amount", "12'500", "12500"), ("Amount", "12’500.5", "12500.5"),
        ("Amount", "12\u202f500", "12500"), ("Amount", "12\u2009500,25 g", "12500.25"),
    ],
)  # fmt: skip
def test_what_is_said_beside_a_unit_does_no_harm(world: World, tmp_path: Path, header: str, amount: str, grams: str) -> None:
    outcome = bring(
        world, "stock", write_csv(tmp_path / "s.csv", ("Material", "Kind", header), [("Oil", "fat", amount)]), {2: "amount"}
    )
    assert outcome.refused_rows == 0, outcome.refusals
    assert on_hand(world) == Decimal(grams)


def test_pieces_are_known_in_a_header(world: World, tmp_path: Path) -> None:
    given = write_csv(tmp_path / "s.csv", ("Material", "Kind", "Amount (Stück)"), [("Labels", "packaging", "250")])
    assert bring(world, "stock", given).refused_rows == 0
    assert Lot.objects.within(world.workshop).get().material.measure == "pieces"


@pytest.mark.parametrize(
    ("header", "amount", "grams"),
    [
        ("Amount (kgs)", "5", "5000"),
        ("Quantité (kilogrammes)", "5", "5000"),
        ("Amount (ozs)", "16", "453.592"),
        ("Amount (gms)", "5", "5"),
    ],
)
def test_units_are_known_in_their_plurals(world: World, tmp_path: Path, header: str, amount: str, grams: str) -> None:
    stock(world, tmp_path, header, amount)
    assert on_hand(world) == Decimal(grams)


@pytest.mark.parametrize("header", ["Menge (Pfd.)", "Amount (bottles)", "Quantité (livres)"])
def test_what_is_a_unit_of_no_certain_mass_is_refused(world: World, tmp_path: Path, header: str) -> None:
    assert "is not known" in why(stock(world, tmp_path, header, "5"))


def test_a_word_in_brackets_that_may_be_meant_as_a_unit_is_remarked(world: World, tmp_path: Path) -> None:
    found = stock(world, tmp_path, "Amount (scoops)", "5")
    assert any("“scoops” in “Amount (scoops)” is no unit known here" in one for one in found.remarks)


@pytest.mark.parametrize("header", ["Price (cents)", "Preis ct/kg", "Preis (Cent/kg)"])
def test_hundredths_of_a_currency_are_refused(world: World, tmp_path: Path, header: str) -> None:
    assert "another currency" in why(priced(world, tmp_path, header, "900"))


@pytest.mark.parametrize("header", ["Weight (day 7)", "Gewicht (netto)", "Weight (bar)", "weight"])
def test_words_in_brackets_are_no_units(world: World, tmp_path: Path, header: str) -> None:
    given = write_csv(tmp_path / "log.csv", (*LOG[:-1], header), [LOGGED])
    assert bring(world, "batches", given, water_share="31 %").refused_rows == 0


def test_a_per_cent_column_is_no_mass(world: World, tmp_path: Path) -> None:
    outcome = log_with(world, tmp_path, "Lye (%)", "5")
    assert outcome.remarks[0] == "“Lye (%)” is left out: by its header it is in %, so it is not “Lye that went in”."
    assert Batch.objects.within(world.workshop).get().lye_g is None


def test_a_per_cent_column_said_to_be_a_mass_is_refused(world: World, tmp_path: Path) -> None:
    assert "has a unit that is not known, “%”" in why(log_with(world, tmp_path, "Lye (%)", "5", {6: "lye"}))


@pytest.mark.parametrize(
    "header", ["Water (oz)", "Water (g)", "Water (ml)", "Water (% of oils)", "Water [% of the fats]", "Wasser (% der Öle)"]
)
def test_water_that_is_no_share_of_the_bar_is_not_read_as_one(world: World, tmp_path: Path, header: str) -> None:
    outcome = log_with(world, tmp_path, header, "12")
    assert f"“{header}” is left out" in outcome.remarks[0]
    assert not any("is read in" in remark for remark in outcome.remarks)
    assert Batch.objects.within(world.workshop).get().water_share_stated == Decimal("0.31")


@pytest.mark.parametrize("header", ["Water (oz)", "Water % of oils", "Water (% of oils)", "Water (oils)"])
def test_water_that_is_said_to_be_a_share_all_the_same_is_refused(world: World, tmp_path: Path, header: str) -> None:
    assert "is no share of the whole, but in" in why(log_with(world, tmp_path, header, "12", {6: "water_share"}))


@pytest.mark.parametrize("header", ["Water", "Water (%)", "Water %", "Water pct", "Water (% of the fresh bar)"])
def test_a_water_share_is_read(world: World, tmp_path: Path, header: str) -> None:
    outcome = log_with(world, tmp_path, header, "12", {6: "water_share"})
    assert outcome.refused_rows == 0, outcome.refusals
    assert Batch.objects.within(world.workshop).get().water_share_stated == Decimal("0.12")


def test_days_are_not_months(world: World, tmp_path: Path) -> None:
    given = write_csv(tmp_path / "log.csv", ("batch", "formula", "bar", "cut", "Age (months)", "weight"), [LOGGED])
    assert "is counted in “months” by its header: count days, or give dates" in why(
        bring(world, "batches", given, water_share="31 %")
    )


@pytest.mark.parametrize(
    "figure", ["12 5", "4'10", "1 4 oz", "1\u20094 oz", "12\u00a05", "1 2345", "12 500'000", "1 234 5", "12,5 00", "1’23"]
)
def test_figures_that_stand_apart_are_no_number(figure: str) -> None:
    with pytest.raises(CellFault, match="has a gap between its figures|is no number"):
        Cells(Options()).grams(figure)


@pytest.mark.parametrize(
    ("number_format", "value", "grams"),
    [
        ('0.0" kg"', 5, "5000"), ('0.0"oz"', 2.5, "70.874"), ("0.0\\ \\k\\g", 5, "5000"), ("[$kg] 0.0", 5, "5000"),
        ('#,##0.0," kg"', 5000, "5000"), ('[<1000]0" g";0.0," kg"', 500, "500"), ('[<1000]0" g";0.0," kg"', 2500, "2500"),
        ("0.00", 5, "5"), ("#,##0_);(#,##0)", 5, "5"), ('General" lb"', 1, "453.592"),
    ],
)  # fmt: skip
def test_the_unit_of_a_number_format_is_read(
    world: World, tmp_path: Path, number_format: str, value: float, grams: str
) -> None:
    outcome = bring(world, "stock", sheet(tmp_path, ("Material", "Kind", "Amount"), ("Oil", "fat", value), {2: number_format}))
    assert outcome.refused_rows == 0, outcome.refusals
    assert on_hand(world) == Decimal(grams)


def test_an_unknown_unit_of_a_number_format_is_refused(world: World, tmp_path: Path) -> None:
    outcome = bring(world, "stock", sheet(tmp_path, ("Material", "Kind", "Amount"), ("Oil", "fat", 5), {2: '0.0" L"'}))
    (one,) = outcome.refusals
    assert (one.value, one.why) == ("5.0 L", "has a unit that is not known, “l”: use g, kg, oz, lb or pieces")


@pytest.mark.parametrize(
    ("number_format", "is_taken"),
    [("[$$-409]#,##0.00", False), ("#,##0.00\\ [$€-407]", True), ('#,##0.00" zł"', False), ('_-* #,##0.00\\ "€"_-', True)],
)
def test_the_currency_of_a_number_format_is_read(world: World, tmp_path: Path, number_format: str, *, is_taken: bool) -> None:
    headers = ("Material", "Kind", "Amount", "Price")
    outcome = bring(world, "stock", sheet(tmp_path, headers, ("Oil", "fat", 1000, 12), {3: number_format}))
    assert (outcome.refused_rows == 0) is is_taken, outcome.refusals
    assert ("is in another currency than the workshop's, EUR" in why(outcome)) is not is_taken


@pytest.mark.parametrize(("value", "number_format"), [(0.05, "0%"), (0.05, "0.0\\ %"), (5, '0"%"'), (5, "0"), (0.05, "0.00")])
def test_per_cent_of_a_spreadsheet_keeps_its_meaning(world: World, tmp_path: Path, value: float, number_format: str) -> None:
    headers = ("formula", "material", "amount", "superfat")
    book = Workbook()
    book.active.append(headers)
    for name, grams in (("Olive oil", 1000), ("Water", 330)):
        book.active.append(["Mint", name, grams, value])
        book.active.cell(book.active.max_row, 4).number_format = number_format
    book.save(tmp_path / "f.xlsx")
    outcome = bring(world, "formulas", FileGiven("f.xlsx", tmp_path / "f.xlsx"))
    assert outcome.refused_rows == 0, outcome.refusals
    line = FormulaLine.objects.within(world.workshop).select_related("version").first()
    assert line.version.superfat == Decimal("0.05")


def test_a_share_of_a_material_in_per_cent_cells_is_that_share(world: World, tmp_path: Path) -> None:
    headers = ("material", "kind", "Water, %")
    outcome = bring(world, "materials", sheet(tmp_path, headers, ("Goat milk", "liquid", 0.87), {2: "0%"}))
    assert outcome.refused_rows == 0, outcome.refusals
    assert MaterialFacts.objects.within(world.workshop).get().water_fraction == Decimal("0.87")


def test_amounts_under_a_per_cent_header_are_shares_of_the_fats(world: World, tmp_path: Path) -> None:
    headers = ("formula", "material", "Amount (% of fats)", "superfat", "fats")
    rows = [("Mint", "Olive oil", "100", "5", "1000"), ("Mint", "Water", "33", "5", "1000")]
    outcome = bring(world, "formulas", write_csv(tmp_path / "f.csv", headers, rows))
    assert outcome.refused_rows == 0, outcome.refusals
    assert {line.per for line in FormulaLine.objects.within(world.workshop)} == {"fats"}
    total = write_csv(tmp_path / "g.csv", ("formula", "material", "Amount (% of total)", *headers[3:]), rows)
    assert "“% of total”" in why(bring(world, "formulas", total, {2: "amount"}))


@pytest.mark.parametrize(
    ("header", "price", "cost"),
    [
        ("Price per 100 g", "1.20", "0.012"), ("Price (per 100 g)", "1.20", "0.012"), ("Preis je 500g", "6", "0.012"),
        ("EUR/100 g", "1.20", "0.012"), ("Price per kg", "12", "0.012"), ("Price (EUR/kg)", "12", "0.012"),
        ("Price (kg)", "12", "0.012"), ("Price", "24", "0.012"), ("Price (EUR)", "24 €", "0.012"),
        ("Price per unit", "12", "0.012"), ("Preis (gesamt)", "24", "0.012"), ("Price (per lot)", "24", "0.012"),
    ],
)  # fmt: skip
def test_a_price_is_of_as_much_as_its_header_says(world: World, tmp_path: Path, header: str, price: str, cost: str) -> None:
    given = write_csv(tmp_path / "s.csv", ("Material", "Kind", "Amount", header), [("Oil", "fat", "2 kg", price)])
    outcome = bring(world, "stock", given, {3: "unit_price"} if header.startswith("EUR") else None)
    assert outcome.refused_rows == 0, outcome.refusals
    assert Lot.objects.within(world.workshop).get().unit_cost == Decimal(cost)


@pytest.mark.parametrize("header", ["Price per litre", "Price per 1,000 g", "Price (per bag)", "Price per 100 ml"])
def test_a_price_of_something_unknown_is_refused(world: World, tmp_path: Path, header: str) -> None:
    assert "say prices per g, kg, oz, lb or piece" in why(priced(world, tmp_path, header, "12"))


def test_a_price_of_one_is_not_taken_for_that_of_all(world: World, tmp_path: Path) -> None:
    given = write_csv(tmp_path / "s.csv", ("Material", "Kind", "Amount", "Price per kg"), [("Oil", "fat", "2 kg", "12")])
    assert "is a price per kg by its header" in why(bring(world, "stock", given, {3: "price"}))


@pytest.mark.parametrize(
    ("currency", "price"),
    [
        ("PLN", "12 zł"), ("PLN", "12,50 ZŁ"), ("CZK", "12 Kč"), ("SEK", "12 kr"), ("DKK", "kr. 12"), ("CHF", "CHF 12"),
        ("CHF", "Fr. 12"), ("GBP", "£12"), ("USD", "US$ 12"), ("HUF", "1 200 Ft"), ("EUR", "1\u202f200,50 €"),
    ],
)  # fmt: skip
def test_the_workshops_own_currency_is_known_as_people_write_it(tmp_path: Path, currency: str, price: str) -> None:
    world = World(name=f"House of {currency}", email=f"{currency}@house.example")
    type(world.workshop).objects.filter(pk=world.workshop.pk).update(currency=currency)
    world.workshop.refresh_from_db()
    assert priced(world, tmp_path, "Price", price).refused_rows == 0


@pytest.mark.parametrize("header", ["Price (USD)", "Price $", "Price (zł)", "Price USD", "Price (USD/kg)"])
def test_another_currency_in_a_header_is_refused(world: World, tmp_path: Path, header: str) -> None:
    assert "is in another currency than the workshop's, EUR" in why(priced(world, tmp_path, header, "12"))


def test_a_batch_named_by_a_day_is_one_batch_however_the_day_is_written(world: World, tmp_path: Path) -> None:
    headers = ("batch", "formula", "bar", "cut", "day", "weight", "water")
    row = ("Fern", "A", "02.11.2025", "7", "120.5", "31 %")
    given = write_csv(tmp_path / "log.csv", headers, [("01.11.2025", *row)], delimiter=";")
    assert "is a name that is a day, and can be read day first or month first: say which" in why(bring(world, "batches", given))
    assert bring(world, "batches", given, date_order="dmy").adds["batches"] == 1
    whole = (date(2025, 11, 1), "Fern", "A", date(2025, 11, 2), 7, 120.5, 0.31)
    again = bring(world, "batches", sheet(tmp_path, headers, whole, {}))
    assert again.adds_nothing, again
    assert Batch.objects.within(world.workshop).get().known_as == "2025-11-01"
