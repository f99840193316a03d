"""What a header says besides: whose bar is weighed, weeks instead of days, columns that are called alike."""

from decimal import Decimal
from pathlib import Path

import pytest

from curehouse.curing.models import Reading, SampleBar
from curehouse.flows.bring_in.header_units import Holds, bar_in, unit_in
from curehouse.flows.bring_in.outcome import Outcome
from tests.flows.bring_in.logs import write_csv
from tests.flows.bring_in.test_misread import LOG, LOGGED, _folder, bring, why
from tests.world import World

__all__ = ["_folder"]
pytestmark = pytest.mark.django_db
BARLESS = ("batch", "formula", "cut", "day")


def weighed(world: World, folder: Path, header: str, weight: str = "120.5") -> Outcome:
    given = write_csv(folder / "log.csv", (*BARLESS, header), [("F1", "Fern", "2024-01-02", "7", weight)])
    return bring(world, "batches", given, {4: "weight"}, water_share="31 %")


@pytest.mark.parametrize(
    ("header", "bar"),
    [
        ("Weight (A)", "A"), ("Weight [b]", "b"), ("Gewicht (Stück 1)", "1"), ("Weight (bar 12)", "12"),
        ("Weight (Bar C)", "C"), ("Weight (sample no. 3)", "3"), ("Gewicht (Probe B2), kg", "B2"), ("Weight (A) (kg)", "A"),
        ("Weight (after)", ""), ("Weight (kg)", ""), ("Weight (g)", ""), ("Weight (L)", ""), ("Weight (t)", ""),
        ("Weight (bar)", ""), ("Weight (day 7)", ""), ("Weight (1 bar)", ""), ("Weight (xy)", ""), ("Weight", ""),
    ],
)  # fmt: skip
def test_a_bars_name_in_brackets_is_known(header: str, bar: str) -> None:
    assert bar_in(header) == bar


@pytest.mark.parametrize(
    ("header", "bar"), [("Weight (A)", "A"), ("Weight (B)", "B"), ("Gewicht (Stück 1)", "1"), ("Weight (bar 12)", "12")]
)
def test_a_bar_that_a_header_names_is_weighed(world: World, tmp_path: Path, header: str, bar: str) -> None:
    outcome = weighed(world, tmp_path, header)
    assert outcome.refused_rows == 0, outcome.refusals
    assert SampleBar.objects.within(world.workshop).get().letter == bar
    assert f"No column names the bars: “{bar}” is taken from “{header}”." in outcome.remarks
    assert not any("is no unit known here" in one for one in outcome.remarks)


def test_a_column_of_bars_counts_before_a_header(world: World, tmp_path: Path) -> None:
    given = write_csv(tmp_path / "log.csv", (*LOG[:-1], "Weight (B)"), [LOGGED])
    outcome = bring(world, "batches", given, water_share="31 %")
    assert SampleBar.objects.within(world.workshop).get().letter == "A"
    assert any(
        "“B” in “Weight (B)” is no unit known here: figures without one are read in g." in one for one in outcome.remarks
    )


@pytest.mark.parametrize(("header", "grams"), [("Weight (A) kg", "120"), ("Weight (A, kg)", "120"), ("Weight (after)", "0.12")])
def test_its_unit_is_read_beside_it(world: World, tmp_path: Path, header: str, grams: str) -> None:
    outcome = weighed(world, tmp_path, header, "0.12")
    assert outcome.refused_rows == 0, outcome.refusals
    assert Reading.objects.within(world.workshop).get().weight_g == Decimal(grams)


def test_weights_of_several_bars_side_by_side_are_not_lost_silently(world: World, tmp_path: Path) -> None:
    headers = (*BARLESS, "Weight (A)", "Weight (B)")
    given = write_csv(tmp_path / "log.csv", headers, [("F1", "Fern", "2024-01-02", "7", "120", "118")])
    outcome = bring(world, "batches", given, water_share="31 %")
    said = "“Weight (B)” is left out: “Weight (A)” is read as “Weight” already. Give what it holds rows of its own."
    assert said in outcome.remarks


def test_no_amount_of_a_store_is_in_a_letter(world: World, tmp_path: Path) -> None:
    """In a stock list no bar is weighed: a letter there is a unit nobody knows."""
    given = write_csv(tmp_path / "s.csv", ("Material", "Kind", "Amount (c)"), [("Oil", "fat", "5")])
    assert "has a unit that is not known, “c”" in why(bring(world, "stock", given))


def aged(world: World, folder: Path, header: str, age: str, *, said_to_be_days: bool = False) -> Outcome:
    given = write_csv(
        folder / "log.csv",
        ("batch", "formula", "bar", "cut", header, "weight"),
        [("F1", "Fern", "A", "2024-01-02", age, "120")],
    )
    return bring(world, "batches", given, {4: "day"} if said_to_be_days else None, water_share="31 %")


@pytest.mark.parametrize(
    "header", ["Age in weeks", "Age (weeks)", "Weeks since cut", "Alter in Wochen", "Alter (Wochen)", "Wiek w tygodniach"]
)
def test_weeks_are_seven_days_each(world: World, tmp_path: Path, header: str) -> None:
    outcome = aged(world, tmp_path, header, "2")
    assert outcome.refused_rows == 0, outcome.refusals
    reading = Reading.objects.within(world.workshop).get()
    assert (reading.moment.date().isoformat(), outcome.as_read.rows[0][4]) == ("2024-01-16", "day 14")
    assert f"“{header}” counts weeks of seven days: week 2 is day 14." in outcome.remarks


@pytest.mark.parametrize("header", ["Week", "Woche", "Týden", "Tydzień", "Vecka", "Semana"])
def test_a_week_alone_is_asked_about_and_never_read_as_a_day(world: World, tmp_path: Path, header: str) -> None:
    """It may be one of the calendar; where a person says that it is the bars' age, it is weeks all the same."""
    with pytest.raises(Exception, match="Say which column tells when a bar was weighed"):
        aged(world, tmp_path, header, "2")
    aged(world, tmp_path, header, "1.5", said_to_be_days=True)
    assert Reading.objects.within(world.workshop).get().moment.date().isoformat() in ("2024-01-12", "2024-01-13")


@pytest.mark.parametrize(
    "header", ["Age in months", "Age (months)", "KW", "Calendar week", "Kalenderwoche", "Day of the week", "Alter (Monate)"]
)
def test_other_times_are_refused(world: World, tmp_path: Path, header: str) -> None:
    assert "by its header: count days, or give dates" in why(aged(world, tmp_path, header, "2", said_to_be_days=True))


@pytest.mark.parametrize(("header", "age", "day"), [("Age in weeks", "10 days", 10), ("Day", "2 weeks", 14), ("Day", "3", 3)])
def test_a_unit_in_the_cell_counts_before_the_headers(world: World, tmp_path: Path, header: str, age: str, day: int) -> None:
    outcome = aged(world, tmp_path, header, age)
    assert outcome.refused_rows == 0, outcome.refusals
    assert outcome.as_read.rows[0][4] == f"day {day}"


@pytest.mark.parametrize(("header", "unit"), [("Age", ""), ("Day", "days"), ("Age (days)", "days"), ("Wochen", "weeks")])
def test_the_time_of_a_header(header: str, unit: str) -> None:
    assert unit_in(header, Holds.DAYS) == unit


def test_a_word_for_two_columns_that_nobody_settled_is_named_with_both(world: World, tmp_path: Path) -> None:
    world.lot("900", material=world.material("Olive oil"))
    headers = ("lot", "material", "amount", "used on")
    found = bring(world, "uses", write_csv(tmp_path / "uses.csv", headers, [("7", "Olive oil", "100 g", "2026-01-05")]))
    assert "“lot” is left out: it may be “Batch” or “Lot number”. Say which, if it counts." in found.remarks
