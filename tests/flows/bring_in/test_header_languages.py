"""Headers in the languages of the makers who keep the lists; a word that means two things is asked about.

The words are those of ordinary dictionaries, from memory, no source.
"""

from pathlib import Path

import pytest

from curehouse.flows.bring_in.columns import guess
from curehouse.flows.bring_in.kinds import KINDS
from curehouse.making.models import Batch
from inventory.models import Lot
from tests.flows.bring_in.logs import write_csv
from tests.flows.bring_in.test_misread import _folder, bring
from tests.world import World

__all__ = ["_folder"]

LOG = ("batch", "formula", "bar", "cut_on", "day", "weight")
LOGS = {
    "Polish": ("Partia", "Receptura", "Próbka", "Data cięcia", "Dzień", "Masa (g)"),
    "Czech": ("Šarže", "Receptura", "Vzorek", "Datum krájení", "Den", "Hmotnost (g)"),
    "Dutch": ("Partij", "Recept", "Monster", "Snijdatum", "Leeftijd (dagen)", "Gewicht (g)"),
    "Swedish": ("Parti", "Recept", "Prov", "Skärdatum", "Ålder (dagar)", "Vikt (g)"),
    "Danish": ("Batchnummer", "Opskrift", "Prøve", "Skæredato", "Alder i dage", "Vægt (g)"),
    "Portuguese": ("Lote", "Receita", "Amostra", "Data de corte", "Dia", "Peso (g)"),
    "German": ("Charge", "Rezept", "Probestück", "Schnittdatum", "Reifetag", "Gewicht (g)"),
    "French": ("Lot", "Recette", "Pain", "Date de coupe", "Jour", "Poids (g)"),
    "Italian": ("Lotto", "Ricetta", "Pezzo", "Taglio", "Giorno", "Peso (g)"),
    "Spanish": ("Lote", "Receta", "Pastilla", "Corte", "Día", "Peso (g)"),
}
STOCK = ("supplier", "material", "material_kind", "amount", "supplier_lot", "received_on", "best_before", "unit_price")
STOCKS = {
    "Polish": (
        "Dostawca",
        "Surowiec",
        "Rodzaj",
        "Ilość (kg)",
        "Nr partii",
        "Data przyjęcia",
        "Termin ważności",
        "Cena jednostkowa",
    ),
    "Czech": (
        "Dodavatel",
        "Surovina",
        "Druh",
        "Množství (kg)",
        "Číslo šarže",
        "Datum příjmu",
        "Spotřebujte do",
        "Jednotková cena",
    ),
    "Dutch": ("Leverancier", "Grondstof", "Soort", "Voorraad (kg)", "Lotnummer", "Ontvangen", "Houdbaar tot", "Eenheidsprijs"),
    "Swedish": ("Leverantör", "Råvara", "Slag", "Mängd (kg)", "Partinummer", "Mottagen", "Bäst före", "Styckpris"),
    "Danish": ("Leverandør", "Råvare", "Kategori", "Mængde (kg)", "Batchnummer", "Modtaget", "Bedst før", "Enhedspris"),
    "Portuguese": ("Fornecedor", "Matéria-prima", "Tipo", "Quantidade (kg)", "Lote", "Recebido", "Validade", "Preço unitário"),
}


def known(headers: tuple[str, ...], kind: str) -> list[str]:
    found = guess(headers, KINDS[kind].columns, {})
    return [found.get(index, "") for index in range(len(headers))]


@pytest.mark.parametrize("language", LOGS)
def test_a_cure_log_is_known_by_its_headers(language: str) -> None:
    assert known(LOGS[language], "batches") == list(LOG)


@pytest.mark.parametrize("language", STOCKS)
def test_a_stock_list_is_known_by_its_headers(language: str) -> None:
    assert known(STOCKS[language], "stock") == list(STOCK)


@pytest.mark.parametrize("header", ["Cena", "Prijs", "Pris", "Preço", "Waga na sztukę", "Data", "Datum", "Stav zásob a šarže"])
def test_what_may_be_two_things_in_a_stock_list_is_asked_about(header: str) -> None:
    """A price may be of one or of all; a day may be of receipt or of the list."""
    assert known(("Material", header), "stock") == ["material", ""]


@pytest.mark.parametrize(
    ("kind", "headers", "found"),
    [
        ("stock", ("Name", "Amount"), ["", "amount"]),
        ("stock", ("Supplier", "Name"), ["supplier", "material"]),
        ("uses", ("Lot", "Amount"), ["", "amount"]),
        ("uses", ("Partia", "Ilość"), ["", "amount"]),
        ("uses", ("Batch", "Lot"), ["batch", "supplier_lot"]),
        ("uses", ("Šarže", "Batch"), ["supplier_lot", "batch"]),
        ("formulas", ("Product", "Amount"), ["", "amount"]),
    ],
)
def test_a_word_for_two_columns_is_asked_about_unless_another_header_names_one_of_them(
    kind: str, headers: tuple[str, ...], found: list[str]
) -> None:
    assert known(headers, kind) == found


@pytest.mark.django_db
@pytest.mark.parametrize("language", ["Polish", "Czech", "Dutch", "Swedish", "Danish", "Portuguese"])
def test_lists_of_these_languages_come_in(world: World, tmp_path: Path, language: str) -> None:
    log = write_csv(tmp_path / "log.csv", LOGS[language], [("F1", "Fern", "A", "2024-01-02", "7", "120.5")], delimiter=";")
    outcome = bring(world, "batches", log, water_share="31 %")
    assert (outcome.adds["batches"], outcome.adds["weighings"]) == (1, 1), outcome
    row = ("Fern Oils", "Olive oil", "fat", "5", "L-7", "2024-01-02", "2026-01-02", "12")
    stock = bring(world, "stock", write_csv(tmp_path / "stock.csv", STOCKS[language], [row], delimiter=";"))
    assert stock.adds["lots"] == 1, stock
    lot = Lot.objects.within(world.workshop).get()
    assert (lot.on_hand, lot.supplier_lot, Batch.objects.within(world.workshop).count()) == (5000, "L-7", 1)
