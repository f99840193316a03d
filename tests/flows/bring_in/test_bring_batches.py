"""A cure log comes in: whole or not at all, once, and in whatever way it is written."""

import uuid
from datetime import date, time, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from curehouse.common.time import local_day, local_moment
from curehouse.curing.balance import differences
from curehouse.curing.models import Assessment, Cure, Reading, SampleBar
from curehouse.curing.services.readings import ReadingEntry
from curehouse.flows.assess import assess_batch
from curehouse.flows.bring_in import batch_stash, batches
from curehouse.flows.end_bar import end_bar
from curehouse.flows.weigh_many import WeighingRow, weigh_many
from curehouse.intake.models import Import
from curehouse.making.models import Batch, Formula
from curehouse.notices.models import Delivery, Notice
from tests.flows.bring_in.logs import LogRow, bring, by_day, dry_run, german, log, plain, spreadsheet, write_csv
from tests.world import World

pytestmark = pytest.mark.django_db
KOH_HEAD = ("Batch", "Formula", "Cut on", "Water", "Fats", "Lye", "KOH of the lye", "Weight", "Day")


@pytest.fixture(autouse=True)
def _folder(settings: Any, tmp_path: Path) -> None:
    settings.DATA_FOLDER = tmp_path / "house"
    settings.DATA_FOLDER.mkdir()


@pytest.fixture(autouse=True, params=[batch_stash.ROWS_AT_ONCE, 3])
def _rows_held(request: Any, monkeypatch: Any) -> None:
    """Let all be so with a file that is held whole as with one of which few rows are held at a time."""
    monkeypatch.setattr(batch_stash, "ROWS_AT_ONCE", request.param)
    monkeypatch.setattr(batches, "ROWS_HELD", request.param)


def kept(world: World) -> set[tuple[str, str, str, date, str]]:
    """Return what the house has of weighings: batch, formula, bar, day, grams."""
    rows = Reading.objects.within(world.workshop).select_related("bar__batch__formula")
    zone = world.workshop.time_zone
    return {
        (r.bar.batch.known_as, r.bar.batch.formula.name, r.bar.letter, local_day(r.moment, zone), f"{r.weight_g:.1f}")
        for r in rows
    }


def meant(rows: list[LogRow]) -> set[tuple[str, str, str, date, str]]:
    return {(r.batch, r.formula, r.bar, r.on, f"{float(r.weight):.1f}") for r in rows}


def states_by_hand(world: World, rows: list[LogRow]) -> dict[str, str]:
    """Enter the batches, weigh their bars and assess them as a maker's phone and the worker do."""
    states = {}
    for name in dict.fromkeys(row.batch for row in rows):
        mine = [row for row in rows if row.batch == name]
        cut_at = local_moment(mine[0].cut, time(12), world.workshop.time_zone)
        labels = sorted({row.bar for row in mine})
        batch = world.batch(
            cut_days_ago=None, poured_at=cut_at, cut_at=cut_at, bars=20, sample_bars=len(labels),
            water_share_stated=Decimal(mine[0].share),
        )  # fmt: skip
        bars = dict(zip(labels, SampleBar.objects.within(world.workshop).filter(batch=batch).order_by("letter"), strict=True))
        sent = []
        for row in mine:
            moment = local_moment(row.on, time(12), world.workshop.time_zone)
            entry = ReadingEntry(uuid.uuid4(), moment, Decimal(row.weight), None, Reading.Source.API)
            sent.append(WeighingRow(bars[row.bar].pk, None, entry))
        weigh_many(actor=world.actor, rows=sent, at=world.now)
        assess_batch(workshop_id=world.workshop.pk, batch_id=batch.pk, at=world.now)
        states[name] = Cure.objects.within(world.workshop).get(batch=batch).state
    return states


def nothing_is_here(world: World) -> bool:
    models = (Batch, Reading, Formula, Import, SampleBar, Cure)
    return not any(model.objects.within(world.workshop).exists() for model in models)


def test_a_log_of_the_past_comes_in_closed_and_tells_nobody(world: World, tmp_path: Path) -> None:
    rows = log()
    outcome = bring(world, plain(tmp_path, rows))
    assert outcome.refused_rows == 0
    assert (outcome.adds["batches"], outcome.adds["weighings"], outcome.adds["batches that still cure"]) == (12, len(rows), 0)
    assert kept(world) == meant(rows)
    batches = Batch.objects.within(world.workshop)
    assert {batch.state for batch in batches} == {"closed"}
    assert all(batch.cure.ended_at and batch.cure.due_on is None for batch in batches.select_related("cure"))
    assert not Notice.objects.within(world.workshop).exists()
    assert not Assessment.objects.within(world.workshop).exists()
    assert differences() == []


def test_day_numbers_count_from_the_cut_dates_of_a_second_table(world: World, tmp_path: Path) -> None:
    rows = log()
    weighings, cuts = by_day(tmp_path, rows, extra=[("listed 1", date(2023, 5, 1)), ("listed 2", date(2023, 5, 2))])
    outcome = bring(world, weighings, cuts)
    assert (outcome.refused_rows, outcome.left_out) == (0, ("listed 1", "listed 2"))
    assert kept(world) == meant(rows)


@pytest.mark.parametrize("written", [german, spreadsheet])
def test_the_same_log_gives_the_same_rows_however_it_is_written(world: World, tmp_path: Path, written: Any) -> None:
    rows = log()
    told = {"date_order": "dmy"} if written is german else {}
    outcome = bring(world, written(tmp_path, rows), **told)
    assert outcome.refused_rows == 0, outcome.refusals[:3]
    assert kept(world) == meant(rows)
    shares = {batch.known_as: batch.water_share_stated for batch in Batch.objects.within(world.workshop)}
    assert {name: f"{share:.4f}" for name, share in shares.items()} == {r.batch: f"{float(r.share):.4f}" for r in rows}
    # However it is written, it is the same log.
    again = bring(world, plain(tmp_path, rows))
    assert (again.adds_nothing, again.known["weighings"], again.refused_rows) == (True, len(rows), 0)


def test_the_same_file_twice_adds_nothing_and_a_longer_one_what_is_new(world: World, tmp_path: Path) -> None:
    rows = log()
    cut_short = [row for row in rows if row.day < 30]
    bring(world, plain(tmp_path, cut_short))
    again = bring(world, plain(tmp_path, cut_short))
    assert again.adds_nothing
    assert (again.known["batches"], again.known["weighings"]) == (12, len(cut_short))
    longer = bring(world, plain(tmp_path, rows))
    assert (longer.adds["batches"], longer.adds["weighings"]) == (0, len(rows) - len(cut_short))
    assert kept(world) == meant(rows)
    assert Import.objects.within(world.workshop).count() == 2


def test_batches_weighed_yesterday_stand_in_the_cure_with_the_states_weighing_by_hand_gives(
    world: World, stranger: World, tmp_path: Path
) -> None:
    """The house next door enters the same batches and weighs the same bars through its own doors."""
    yesterday = world.now.date() - timedelta(days=1)
    rows = log(last_on=yesterday)
    outcome = bring(world, plain(tmp_path, rows))
    assert outcome.adds["batches that still cure"] == 12
    cures = {cure.batch.known_as: cure for cure in Cure.objects.within(world.workshop).select_related("batch", "assessment")}
    assert all(cure.ended_at is None and cure.due_on and cure.assess_wanted_at is None for cure in cures.values())
    assert all(cure.assessment and cure.assessment.state == cure.state for cure in cures.values())
    assert {name: cure.state for name, cure in cures.items()} == states_by_hand(stranger, rows)
    assert len({cure.state for cure in cures.values()}) > 1
    assert not Delivery.objects.within(world.workshop).exists()
    told = Notice.objects.within(world.workshop).open()
    assert {notice.about for notice in told} == {f"batch:{cure.batch_id}" for cure in cures.values() if cure.state != "curing"}
    assert Assessment.objects.within(world.workshop).count() == 12


def test_a_log_may_say_that_its_batches_still_cure(world: World, tmp_path: Path) -> None:
    outcome = bring(world, plain(tmp_path, log(batches=2)), still_curing=True)
    assert outcome.adds["batches that still cure"] == 2
    headers = ("batch", "formula", "bar", "water %", "cut", "date", "weight", "still curing")
    rows = [("Fern", "Fern", "1", "30 %", "2024-01-02", "2024-01-02", "120", "yes"),
            ("Moss", "Moss", "1", "30 %", "2024-01-02", "2024-01-02", "120", "no")]  # fmt: skip
    outcome = bring(world, write_csv(tmp_path / "two.csv", headers, rows), still_curing=True)
    assert (outcome.adds["batches"], outcome.adds["batches that still cure"]) == (2, 1)


def test_batches_without_weighings_come_in_when_asked_for(world: World, tmp_path: Path) -> None:
    weighings, cuts = by_day(tmp_path, log(batches=1), extra=[("listed", date(2023, 5, 1))])
    without = dry_run(world, weighings, cuts)
    assert (without.left_out_count, without.adds["batches"]) == (1, 1)
    outcome = bring(world, weighings, cuts, with_unweighed=True, formula="Plain", water_share="31 %")
    assert (outcome.refused_rows, outcome.adds["batches"], outcome.left_out_count) == (0, 2, 0)
    assert Batch.objects.within(world.workshop).get(known_as="listed").state == "closed"


WRONG = [
    ("cut", "", "is not said"),
    ("cut", "03/04/2024", "day first or month first"),
    ("cut", "2024-02-31", "no day of the calendar"),
    ("cut", "31.12.24", "year of four figures"),
    ("date", "2029-01-01", "lies in the future"),
    ("date", "2023-12-31", "comes before the cut"),
    ("weight", "heavy", "is no number"),
    ("weight", "1,234", "two ways"),
    ("weight", "-5", "not above 0 g"),
    ("weight", "0", "not above 0 g"),
    ("weight", "1e9", "is no number"),
    ("weight", "25 kg", "up to 20000 g"),
    ("weight", "12 stone", "unit that is not known"),
    ("weight", "NaN", "is no number"),
    ("weight", "１２０", "is no number"),
    ("bar", "", "which bar"),
    ("bar", "=1+1", "begins like a formula"),
    ("bar", "the bar at the left", "keep it to 12"),
    ("batch", "", "which batch"),
    ("batch", "@SUM(A1)", "begins like a formula"),
    ("batch", "Fern\u202egnp", "cannot be shown"),
    ("formula", "", "is not said"),
    ("water %", "", "is not said"),
    ("water %", "140 %", "between 0 and 100 %"),
    ("firmness", "so so", "no firmness"),
    ("poured", "2024-01-09", "comes after the cut"),
    ("place", "North wall", "no place on your racks"),
]


@pytest.mark.parametrize(("header", "value", "said"), WRONG)
def test_a_wrong_cell_is_named_and_nothing_comes_in(world: World, tmp_path: Path, header: str, value: str, said: str) -> None:
    right = {
        "batch": "Fern", "formula": "Fern", "bar": "1", "water %": "30 %", "cut": "2024-01-02", "date": "2024-01-02",
        "weight": "120", "firmness": "firm", "poured": "2024-01-01", "place": "", "still curing": "yes",
    }  # fmt: skip
    good = {**right, "batch": "Moss"}
    wrong = {**right, header: value}
    # A day without any cut date needs day numbers; with dates the first weighing would stand in for it.
    headers = [*right, "day"]
    rows = [[*good.values(), ""], [*wrong.values(), ""]]
    if (header, value) == ("cut", ""):
        rows[1][headers.index("date")], rows[1][-1] = "", "7"
    outcome = bring(world, write_csv(tmp_path / "log.csv", headers, rows))
    assert [refusal.row for refusal in outcome.refusals] == [3]
    (refusal,) = outcome.refusals
    assert said in refusal.why
    assert refusal.header == header
    assert nothing_is_here(world)


def test_of_very_many_refused_rows_a_thousand_are_listed_and_the_rest_counted(world: World, tmp_path: Path) -> None:
    rows = [("Fern", "Fern", "1", "30 %", "2024-01-02", "x", "120")] * 1500
    outcome = dry_run(
        world, write_csv(tmp_path / "log.csv", ("batch", "formula", "bar", "water", "cut", "day", "weight"), rows)
    )
    assert (outcome.refused_rows, len(outcome.refusals)) == (1500, 1000)
    assert (outcome.refusals[0].cell, outcome.refusals[0].value) == ("F2", "x")


def test_two_rows_that_say_the_same_count_once_and_two_weights_of_one_day_are_refused(world: World, tmp_path: Path) -> None:
    headers = ("batch", "formula", "bar", "water", "cut", "day", "weight")
    row = ("Fern", "Fern", "1", "30 %", "2024-01-02", "7", "120")
    outcome = dry_run(world, write_csv(tmp_path / "log.csv", headers, [row, row]))
    assert (outcome.adds["weighings"], outcome.refused_rows) == (1, 0)
    assert "Some rows stand in the file twice" in outcome.remarks[0]
    outcome = dry_run(world, write_csv(tmp_path / "log.csv", headers, [row, (*row[:-1], "119")]))
    assert "another weight of bar 1 on the same day than in row 2" in outcome.refusals[0].why


def test_what_contradicts_the_house_is_refused(world: World, tmp_path: Path) -> None:
    headers = ("batch", "formula", "bar", "water", "cut", "day", "weight")
    bring(world, write_csv(tmp_path / "log.csv", headers, [("Fern", "Fern", "1", "30 %", "2024-01-02", "7", "120")]))
    for changed, said in (
        (("Fern", "Fern", "1", "30 %", "2024-01-02", "7", "119"), "another weight of bar 1 than the house has"),
        (("Fern", "Moss", "1", "30 %", "2024-01-02", "7", "120"), "another one than the house knows"),
        (("fern", "fern", "1", "30 %", "2024-01-03", "7", "120"), "another day than the house knows"),
    ):
        outcome = bring(world, write_csv(tmp_path / "log.csv", headers, [changed]))
        assert said in outcome.refusals[0].why
    assert Reading.objects.within(world.workshop).count() == 1


@pytest.mark.parametrize(
    ("unit", "typed", "grams"),
    [("g", "120.5", "120.500"), ("kg", "0.1205", "120.500"), ("oz", "4.25", "120.485"), ("lb", "0.25", "113.398")],
)
def test_weights_come_in_any_unit(world: World, tmp_path: Path, unit: str, typed: str, grams: str) -> None:
    """The ounce and the pound as NIST Handbook 44, Appendix C has them: 28.349523125 g and 453.59237 g."""
    headers = ("batch", "formula", "bar", "water", "cut", "day", "weight", "unit")
    row = ("Fern", "Fern", "1", "30 %", "2024-01-02", "7", typed)
    for number, (behind, column, told) in enumerate((("", "", unit), (f" {unit}", "", "g"), ("", unit, "g"))):
        rows = [(f"Fern {number}", *row[1:-1], f"{typed}{behind}", column)]
        bring(world, write_csv(tmp_path / f"{number}.csv", headers, rows), unit=told)
    weights = Reading.objects.within(world.workshop).values_list("weight_g", flat=True)
    assert {str(weight) for weight in weights} == {grams}


def test_a_batch_keeps_its_name_its_place_and_what_is_not_known_of_it(world: World, tmp_path: Path) -> None:
    world.rack("North wall")
    headers = ("batch", "formula", "bar", "water", "cut", "day", "weight", "bars", "place", "note")
    cut = world.now.date() - timedelta(days=8)
    row = ("G-17", "Goat & oat", "b2", "0,31", cut, "7", "120,5 g", "24", "North wall, level 1, place 2", "poured warm")
    outcome = bring(world, write_csv(tmp_path / "log.csv", headers, [row]))
    assert outcome.refused_rows == 0, outcome.refusals
    batch = Batch.objects.within(world.workshop).select_related("formula", "cure").get()
    assert str(batch) == "Goat & oat G-17"
    assert (batch.bars_cut, batch.bars_left, batch.pour_known, batch.fats_g, batch.note) == (24, 24, False, None, "poured warm")
    assert batch.occupancies.get().bars == 24
    assert Batch.objects.within(world.workshop).matching("g-17").get() == batch
    assert differences() == []


def test_another_workshop_may_bring_in_the_same_log(world: World, stranger: World, tmp_path: Path) -> None:
    rows = log(batches=2)
    bring(world, plain(tmp_path, rows))
    outcome = bring(stranger, plain(tmp_path, rows))
    assert outcome.adds["weighings"] == len(rows)
    assert kept(stranger) == kept(world) == meant(rows)


HEADERS = ("batch", "formula", "bar", "water", "cut", "day", "weight", "bars", "place", "still curing")


def row_of(world: World, **changes: str) -> tuple[str, ...]:
    right = {
        "batch": "Fern", "formula": "Fern", "bar": "1", "water": "30 %",
        "cut": str(world.now.date() - timedelta(days=21)), "day": "7", "weight": "120", "bars": "20", "place": "",
        "still curing": "",
    }  # fmt: skip
    return tuple((right | changes).values())


@pytest.mark.parametrize(
    ("header", "typed", "grams"), [("weight (oz)", "4.25", "120.485"), ("Gewicht_kg", "0.1205", "120.500")]
)
def test_the_unit_that_a_header_names_is_the_unit_of_its_figures(
    world: World, tmp_path: Path, header: str, typed: str, grams: str
) -> None:
    headers = [header if name == "weight" else name for name in HEADERS]
    outcome = bring(world, write_csv(tmp_path / "log.csv", headers, [row_of(world, weight=typed)]))
    assert outcome.refused_rows == 0, outcome.refusals
    assert f"“{header}” is read in" in outcome.remarks[0]
    assert str(Reading.objects.within(world.workshop).get().weight_g) == grams


def test_a_longer_file_with_places_comes_in_again(world: World, tmp_path: Path) -> None:
    world.rack("Oak")
    place = "Oak, level 1, place 1"
    bring(world, write_csv(tmp_path / "1.csv", HEADERS, [row_of(world, place=place)]))
    rows = [row_of(world, place=place), row_of(world, place=place, day="14", weight="117")]
    outcome = bring(world, write_csv(tmp_path / "2.csv", HEADERS, rows))
    assert (outcome.refused_rows, outcome.adds["weighings"]) == (0, 1)
    assert Batch.objects.within(world.workshop).get().occupancies.get().bars == 20


def test_what_cannot_be_written_is_refused_by_the_dry_run_already(world: World, tmp_path: Path) -> None:
    world.rack("Oak", levels=1, places=1, capacity=24)
    place = "Oak, level 1, place 1"
    rows = [row_of(world, place=place), row_of(world, batch="Moss", place=place)]
    outcome = dry_run(world, write_csv(tmp_path / "full.csv", HEADERS, rows))
    assert "the racks have room for 4 bars more" in outcome.refusals[0].why
    bring(world, write_csv(tmp_path / "1.csv", HEADERS, [row_of(world)]))
    bar = SampleBar.objects.within(world.workshop).get()
    end_bar(actor=world.actor, bar=bar, why="broken", at=world.days_ago(10))
    rows = [row_of(world), row_of(world, day="14", weight="117")]
    outcome = dry_run(world, write_csv(tmp_path / "2.csv", HEADERS, rows))
    assert [(one.row, one.header) for one in outcome.refusals] == [(3, "bar")]
    assert "is not weighed any more" in outcome.refusals[0].why


def test_a_batch_whose_weighings_are_refused_is_not_said_to_have_none(world: World, tmp_path: Path) -> None:
    outcome = dry_run(world, write_csv(tmp_path / "1.csv", HEADERS, [row_of(world, weight="heavy")]))
    assert (outcome.refused_rows, outcome.left_out) == (1, ())


def test_a_cut_that_is_taken_from_the_weighings_is_said(world: World, tmp_path: Path) -> None:
    headers = [*HEADERS, "date"]
    row = (*row_of(world, cut="", day=""), str(world.now.date() - timedelta(days=7)))
    outcome = dry_run(world, write_csv(tmp_path / "1.csv", headers, [row]))
    assert (outcome.refused_rows, outcome.remarks) == (
        0, ("Of 1 batch no cut date is said: the day of the first weighing counts as the cut.",),
    )  # fmt: skip


def test_rows_of_a_batch_may_stand_anywhere_and_batches_are_numbered_as_they_were_cut(world: World, tmp_path: Path) -> None:
    rows = log(batches=5)
    mixed = sorted(rows, key=lambda row: (row.weight, row.batch, row.bar))
    assert bring(world, plain(tmp_path, mixed)).refused_rows == 0
    assert kept(world) == meant(rows)
    cut = sorted({(row.cut, row.batch) for row in rows})
    assert list(Batch.objects.within(world.workshop).order_by("number").values_list("known_as", flat=True)) == [
        name for _day, name in cut
    ]


def test_the_racks_hold_only_what_they_have_room_for_however_the_file_is_read(world: World, tmp_path: Path) -> None:
    position = world.position(world.rack("Oak", levels=1, places=1, capacity=30))
    last = world.now.date() - timedelta(days=1)
    said = [(f"P{number}", "Plain", "A", "0.31", last, last, "120", 12, str(position)) for number in range(4)]
    headers = ("batch", "formula", "bar", "water_fraction", "cut_date", "date", "weight_g", "bars", "place")
    given = write_csv(tmp_path / "log.csv", headers, said)
    outcome = dry_run(world, given)
    assert [(one.row, "room for" in one.why) for one in outcome.refusals] == [(4, True), (5, True)], outcome.refusals


@pytest.mark.parametrize(
    ("lye", "koh", "kept_as"), [("280 g", "120 g", Decimal(120)), ("280 g", "0", Decimal(0)), ("280 g", "", None)]
)
def test_potassium_hydroxide_comes_in_by_itself(
    world: World, tmp_path: Path, lye: str, koh: str, kept_as: Decimal | None
) -> None:
    given = write_csv(tmp_path / "log.csv", KOH_HEAD, [("7", "Cream", "2026-01-05", "30 %", "2000 g", lye, koh, "104", "7")])
    outcome = bring(world, given, unit="g")
    assert outcome.refused_rows == 0, outcome
    assert Batch.objects.within(world.workshop).get().koh_g == kept_as


@pytest.mark.parametrize("lye", ["280 g", ""])
def test_more_potassium_hydroxide_than_lye_is_refused(world: World, tmp_path: Path, lye: str) -> None:
    given = write_csv(
        tmp_path / "log.csv", KOH_HEAD, [("7", "Cream", "2026-01-05", "30 %", "2000 g", lye, "281 g", "104", "7")]
    )
    outcome = bring(world, given, unit="g")
    assert "is more than all its lye" in " ".join(one.why for one in outcome.refusals)
    assert not Batch.objects.within(world.workshop).exists()
