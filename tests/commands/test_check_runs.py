"""Runs checked from a file: the answers, and what is said of a file that is wrong."""

import json
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command

from tests.house import run_manage

DATA = Path(__file__).parent.parent / "data"
CASE: dict[str, Any] = {
    "name": "one",
    "as_of": "2026-03-02",
    "lots": [{"material": "oil", "lot": "A", "quantity_g": 900, "best_before": "2026-06-10"}],
    "open_orders": [
        {"material": "oil", "order": "P", "quantity_g": 900, "expected": "2026-03-20", "best_before": "2026-09-10"}
    ],
    "planned_runs": [],
    "blends": {},
    "lead_days": {"oil": 7},
    "formulas": {"F": [{"item": "oil", "bp": 10000}]},
    "new_run": {"run": "NEW", "formula": "F", "date": "2026-03-12", "oil_g": 1000},
}


def sorted_lists(answers: dict[str, Any]) -> dict[str, Any]:
    """Put what stands in no order in one."""
    for one in answers.values():
        one["shortages"].sort(key=lambda shortage: shortage["material"])
        for lots in (one["allocation_on_earliest"] or {}).values():
            lots.sort(key=lambda lot: lot["lot"])
    return answers


def test_cases_with_exact_answers_are_answered_exactly_in_every_field(tmp_path: Path) -> None:
    out = tmp_path / "answers.json"
    call_command("check_runs", DATA / "run_cases.json", out=out)
    exact = json.loads((DATA / "run_answers.json").read_text(encoding="utf-8"))
    assert len(exact) == 12
    assert sorted_lists(json.loads(out.read_text(encoding="utf-8"))) == sorted_lists(exact)


def test_the_command_says_how_many_it_checked_and_where_they_are(tmp_path: Path) -> None:
    out = tmp_path / "answers.json"
    said = run_manage("check_runs", str(DATA / "run_cases.json"), "--out", str(out), data=tmp_path / "data")
    assert (said.returncode, said.stdout) == (0, f"12 runs checked, in {out}.\n")
    assert len(json.loads(out.read_text(encoding="utf-8"))) == 12


def changed(**fields: Any) -> list[dict[str, Any]]:
    return [CASE | fields]


def without(name: str) -> list[dict[str, Any]]:
    return [{key: value for key, value in CASE.items() if key != name}]


LOT, ORDER, NEW = CASE["lots"][0], CASE["open_orders"][0], CASE["new_run"]


@pytest.mark.parametrize(
    ("cases", "said"),
    [
        ({}, "must hold a list of cases in square brackets."),
        ([3], "case 1 must be names and values in braces."),
        ([CASE, CASE], "case 2: another case is called one already; give each its own name."),
        (changed(name=""), "case 1: name is “”; write a name in quotes."),
        (without("lots"), "case one has no “lots”: write it there."),
        (changed(lots={}), "case one: lots is “{}”; write a list in square brackets."),
        (changed(as_of="2.3.2026"), "case one: as_of is “2.3.2026”; write a date as 2026-01-31."),
        (changed(as_of=20260302), "case one: as_of is “20260302”; write a date as 2026-01-31."),
        (changed(lots=[LOT | {"quantity_g": "900"}]), "case one, lots 1: quantity_g is “900”; write a plain number."),
        (changed(lots=[LOT | {"quantity_g": -1}]), "case one, lots 1: quantity_g is “-1”; write a weight in grams from 0 up."),
        (changed(lots=[LOT | {"quantity_g": float("nan")}]), "quantity_g is “nan”; write a plain number."),
        (changed(lots=[LOT | {"quantity_g": True}]), "quantity_g is “True”; write a plain number."),
        (changed(lots=[LOT | {"quarantined": "no"}]), "case one, lots 1: quarantined is “no”; write true or false."),
        (changed(lots=[LOT, LOT]), "case one: a lot or an order called A stands here twice: leave one out"),
        (changed(open_orders=[ORDER | {"best_before": "2026-03-01"}]), "the order P of oil expires before it comes"),
        (changed(lead_days={"oil": 1.5}), "case one, lead_days: oil is “1.5”; write a whole number of days from 0 to 3650."),
        (changed(formulas={"F": [{"item": "oil", "bp": 0}]}), "formulas, F 1: bp is “0”; write a plain number above 0."),
        (changed(new_run=NEW | {"formula": "G"}), "case one: the formula G is not known: enter it, or choose one of F."),
        (changed(new_run=NEW | {"oil_g": 0}), "case one, new_run: oil_g is “0”; write a plain number above 0."),
        (changed(new_run=NEW | {"date": "2026-03-01"}), "case one: the run NEW is of a day that is past: move it to today"),
        (
            changed(new_run=NEW | {"oil_g": 1e200}, formulas={"F": [{"item": "oil", "bp": 1e200}]}),
            "case one: a run needs more of something than can be reckoned: check its oil_g and the bp of its formula.",
        ),
        (changed(planned_runs=[NEW]), "case one: a run called NEW stands here twice"),
        (changed(blends={"b": [{"item": "b", "bp": 10000}]}), "case one: a blend cannot be made of itself: b, which is"),
        (changed(blends={"b": [{"item": "oil", "bp": 9000}]}), "case one: the parts of the blend b come to 90.00% of it"),
    ],
)
def test_what_is_wrong_in_a_file_is_said_with_its_place_and_nothing_is_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], cases: Any, said: str
) -> None:
    file, out = tmp_path / "cases.json", tmp_path / "answers.json"
    file.write_text(json.dumps(cases), encoding="utf-8")
    out.write_text("what was there", encoding="utf-8")
    with pytest.raises(SystemExit) as ended:
        call_command("check_runs", file, out=out)
    assert ended.value.code == 2
    told = capsys.readouterr().err
    assert said in told
    assert told.startswith(f"Curehouse: {file}")
    assert told.count("\n") == 1
    assert out.read_text(encoding="utf-8") == "what was there"
    assert sorted(one.name for one in tmp_path.iterdir()) == ["answers.json", "cases.json"]


@pytest.mark.parametrize("text", ["", "[", "\xff", "[" * 200_000])
def test_what_is_no_json_is_told_so(tmp_path: Path, capsys: pytest.CaptureFixture[str], text: str) -> None:
    file = tmp_path / "cases.json"
    file.write_text(text, encoding="latin-1")
    with pytest.raises(SystemExit):
        call_command("check_runs", file, out=tmp_path / "answers.json")
    assert f"{file} cannot be read as JSON in UTF-8" in capsys.readouterr().err


def test_a_place_that_cannot_be_written_is_told_and_left_as_it_was(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (out := tmp_path / "answers.json").mkdir()
    with pytest.raises(SystemExit):
        call_command("check_runs", DATA / "run_cases.json", out=out)
    assert f"{out} cannot be written" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == [out]
