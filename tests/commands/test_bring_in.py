"""``manage.py bring_in``: what is said of a file, and with which code the command ends."""

from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command

from curehouse.curing.models import Reading
from inventory.models import Count, Lot
from tests.flows.bring_in.logs import by_day, log, write_csv
from tests.world import World

pytestmark = pytest.mark.django_db
STOCK = ("Rohstoff", "Art", "Bestand", "Eingang")
OLIVE = ("Olive oil", "fat", "1,5 kg", "10.01.2026")


@pytest.fixture(autouse=True)
def _folder(settings: Any, tmp_path: Path) -> None:
    settings.DATA_FOLDER = tmp_path / "house"
    settings.DATA_FOLDER.mkdir()


def test_a_log_comes_in_with_its_cut_dates_after_a_dry_run(world: World, tmp_path: Path, capsys: Any) -> None:
    weighings, cuts = by_day(tmp_path, log(batches=2))
    words = ["bring_in", "batches", str(weighings.path), "--with", str(cuts.path)]
    call_command(*words, "--dry-run")
    assert "Would come in: 2 batches" in capsys.readouterr().out
    assert not Reading.objects.within(world.workshop).exists()
    call_command(*words)
    assert "Came in: 2 batches" in capsys.readouterr().out
    assert Reading.objects.within(world.workshop).count() == len(log(batches=2))
    call_command(*words)
    assert "Nothing new is in the file." in capsys.readouterr().out


def test_columns_dates_and_decimals_are_said_by_options(world: World, tmp_path: Path, capsys: Any) -> None:
    path = write_csv(tmp_path / "bestand.csv", ("Was", *STOCK[1:]), [OLIVE], delimiter=";").path
    call_command("bring_in", "stock", str(path), "--column", "Was=material", "--dates", "dmy", "--decimal", ",")
    assert "Came in: 1 material, 1 lot." in capsys.readouterr().out
    assert f"{Lot.objects.within(world.workshop).get().on_hand}" == "1500.000"


def test_a_refused_row_is_named_and_ends_the_command_with_a_fault(world: World, tmp_path: Path, capsys: Any) -> None:
    path = write_csv(tmp_path / "bestand.csv", STOCK, [OLIVE, ("Salt", "thing", "1", "2026-01-10")], delimiter=";").path
    with pytest.raises(CommandError, match="2 rows are refused, so nothing came in"):
        call_command("bring_in", "stock", str(path))
    said = capsys.readouterr().out
    assert "D2 (Eingang): “10.01.2026” can be read day first or month first: say which." in said
    assert "B3 (Art): “thing” is no kind of material" in said
    assert not Lot.objects.within(world.workshop).exists()


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["bogus", "x.csv"], "argument kind: invalid choice: 'bogus'"),
        (["stock", "x.csv", "--dats", "dmy"], "unrecognized arguments: --dats dmy. `manage.py bring_in --help` lists"),
        (["stock"], "the following arguments are required: FILE. `manage.py bring_in --help` lists"),
        (["stock", "missing.csv"], "There is no file missing.csv."),
        (["suppliers", "missing.csv", "--with", "missing.csv"], "There is no file missing.csv."),
    ],
)
def test_wrong_words_are_answered_in_one_sentence(world: World, words: list[str], sentence: str, capsys: Any) -> None:
    with pytest.raises(SystemExit) as ended:
        call_command("bring_in", *words)
    assert ended.value.code == 2
    said = capsys.readouterr().err
    assert said.startswith(f"Curehouse: {sentence}")
    assert said.count("\n") == 1


def test_a_stock_list_is_taken_as_of_the_day_that_is_said(world: World, tmp_path: Path, capsys: Any) -> None:
    headers, row = ("material", "kind", "amount", "received"), ("Olive oil", "fat", "5.5 kg", "2026-01-05")
    path = str(write_csv(tmp_path / "stock.csv", headers, [row]).path)
    with pytest.raises(SystemExit):
        call_command("bring_in", "stock", path, "--as-of", "last week")
    assert "The day of the stock list, “last week”, is no date" in capsys.readouterr().err
    assert not Lot.objects.within(world.workshop).exists()
    call_command("bring_in", "stock", path, "--as-of", "2026-03-01 18:30")
    assert "there on 2026-03-01 18:30" in capsys.readouterr().out
    listed = Count.objects.within(world.workshop).get()
    assert (listed.by_list, listed.counted) == (True, 5500)
    assert listed.moment.isoformat() == "2026-03-01T17:30:00+00:00"
    used = [("Olive oil", "300 g", "2026-03-01 18:00"), ("Olive oil", "200 g", "2026-03-01 19:00")]
    call_command("bring_in", "uses", str(write_csv(tmp_path / "uses.csv", ("material", "amount", "used on"), used).path))
    assert Lot.objects.within(world.workshop).get().on_hand == 5300
