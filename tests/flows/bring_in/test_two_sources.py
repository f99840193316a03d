"""What a file says twice and differently, or in a shape or a unit that is hardly meant: said, never settled in silence."""

from decimal import Decimal
from pathlib import Path

import pytest

from curehouse.common.errors import Invalid
from tests.flows.bring_in.logs import write_csv
from tests.flows.bring_in.test_misread import LOG, LOGGED, _folder, bring, on_hand, why
from tests.web.reading_pages import words_of
from tests.web.test_imports import lay_out
from tests.web.visitor import Visitor
from tests.world import World

__all__ = ["_folder"]
pytestmark = pytest.mark.django_db
HEADS = ("Material", "Kind", "Amount (kg)", "Unit")


def test_a_unit_in_the_row_that_is_not_the_headers_is_refused(world: World, tmp_path: Path) -> None:
    rows = [("Oil", "fat", "5", "g"), ("Shea", "fat", "5", "Kilo"), ("Palm", "fat", "5", "")]
    outcome = bring(world, "stock", write_csv(tmp_path / "s.csv", HEADS, rows))
    assert [one.row for one in outcome.refusals] == [2]
    assert "has two units, “g” in its row and “kg” in the header of its column: keep the one that holds" in why(outcome)


def test_the_same_unit_twice_is_no_fault(world: World, tmp_path: Path) -> None:
    assert bring(world, "stock", write_csv(tmp_path / "s.csv", HEADS, [("Oil", "fat", "5", "kgs.")])).refused_rows == 0
    assert on_hand(world) == Decimal(5000)


def test_a_log_with_two_units_is_refused(world: World, tmp_path: Path) -> None:
    heads = (*LOG[:-1], "Weight (g)", "Unit")
    assert "has two units, “oz”" in why(
        bring(world, "batches", write_csv(tmp_path / "l.csv", heads, [(*LOGGED, "oz")]), water_share="31 %")
    )


@pytest.mark.parametrize(("weight", "is_odd"), [("0.1205", True), ("4.9 g", True), ("5", False), ("0.1205 kg", False)])
def test_a_very_light_bar_is_remarked_on(world: World, tmp_path: Path, weight: str, is_odd: bool) -> None:
    row = (*LOGGED[:-1], weight)
    outcome = bring(world, "batches", write_csv(tmp_path / "l.csv", LOG, [row]), water_share="31 %")
    assert outcome.refused_rows == 0, outcome.refusals
    said = "is very light for a bar of soap. If the file counts in kg, say that weights without a unit are in kg."
    assert any(said in one for one in outcome.remarks) is is_odd


@pytest.mark.parametrize(
    "days",
    [
        ("2024-01-02", "2024-01-09", "2024-01-16"), ("2.1.", "9.1.", "16.1."), ("Day 0", "Day 7", "Day 14"),
        ("02/01/2024", "09/01/2024", "16/01/2024"), ("Tag 0", "Tag 7", "Tag 14"),
    ],
)  # fmt: skip
def test_days_as_headings_are_told_to_be_rows(world: World, tmp_path: Path, days: tuple[str, ...]) -> None:
    rows = [("F1", "A", "124", "121.4", ""), ("F1", "B", "125", "122.4", "121")]
    given = write_csv(tmp_path / "l.csv", ("Batch", "Bar", *days), rows)
    with pytest.raises(Invalid, match="one row for each weighing, like “batch, bar, weighed on, weight”"):
        bring(world, "batches", given)
    page = words_of(lay_out(Visitor(world), given.path.read_text()))
    assert "give it one row for each weighing" in page


def test_two_days_in_each_row_are_no_crosstab(world: World, tmp_path: Path) -> None:
    heads = ("batch", "formula", "bar", "cut", "weighed on", "weight")
    row = ("F1", "Fern", "A", "2024-01-02", "2024-01-09", "120.5")
    assert bring(world, "batches", write_csv(tmp_path / "l.csv", heads, [row]), water_share="31 %").refused_rows == 0


@pytest.mark.parametrize("word", ["olej", "tłuszcz", "tuk", "olie", "olja", "fedt", "óleo"])
def test_a_word_for_a_kind_that_is_not_known_is_refused_with_those_that_are(world: World, tmp_path: Path, word: str) -> None:
    outcome = bring(world, "materials", write_csv(tmp_path / "m.csv", ("Material", "Kind"), [("Oil", word)]))
    assert "use fat, lye, liquid" in why(outcome)


@pytest.mark.parametrize("word", ["zwolniony", "uvolněno", "vrijgegeven", "frisläppt", "frigivet", "liberado"])
def test_a_word_for_a_standing_that_is_not_known_is_refused_with_those_that_are(
    world: World, tmp_path: Path, word: str
) -> None:
    heads = ("Material", "Kind", "Amount", "Status")
    outcome = bring(world, "stock", write_csv(tmp_path / "s.csv", heads, [("Oil", "fat", "5 kg", word)]), {3: "standing"})
    assert "use released, quarantine or rejected" in why(outcome)


@pytest.mark.parametrize("word", ["tak", "ano", "nej", "sim", "nie"])
def test_a_word_for_yes_that_is_not_known_is_refused_with_those_that_are(world: World, tmp_path: Path, word: str) -> None:
    given = write_csv(tmp_path / "l.csv", (*LOG, "open"), [(*LOGGED, word)])
    assert "use yes or no" in why(bring(world, "batches", given, {6: "still_curing"}, water_share="31 %"))
