"""The forecast of files: what comes out, and what is said of a file that is wrong."""

import json
from pathlib import Path

import pytest
from django.core.management import call_command

HEAD = "batch,formula,bar,water_fraction,day,weight_g\n"
ROWS = "".join(
    f"a,plain,b{bar},0.2,{day},{110 + bar - lost}\n" for bar in (1, 2, 3) for day, lost in ((0, 0), (7, 5.9), (14, 8.6))
)


def ask(folder: Path, current: str, history: str = HEAD, **more: str) -> Path:
    for name, text in (("history", history), ("current", current), *more.items()):
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")
    out = folder / "f.json"
    files = {name: folder / f"{name}.csv" for name in ("history", "current", *more)}
    call_command("forecast_cure", **files, out=out)
    return out


def test_a_file_of_weighings_is_forecast_without_any_history(tmp_path: Path) -> None:
    found = json.loads(ask(tmp_path, HEAD + ROWS).read_text(encoding="utf-8"))["a"]
    assert 28 <= found["ready_day_p10"] <= found["ready_day_p50"] <= found["ready_day_p90"] <= 126
    assert 0 <= found["soft_probability"] <= 1
    assert list(found["bars"]) == ["b1", "b2", "b3"]
    assert 94 < found["bars"]["b1"]["p10"] < found["bars"]["b1"]["p50"] < found["bars"]["b1"]["p90"] < 102


def test_a_weight_that_does_not_fit_is_named_with_what_it_probably_is(tmp_path: Path) -> None:
    found = json.loads(ask(tmp_path, HEAD + ROWS.replace("a,plain,b2,0.2,14,103.4", "a,plain,b2,0.2,14,1034")).read_text())["a"]
    assert found["faults"] == [["a", "b2", 14.0]]
    assert found["doubts"][0]["kind"] == "decimal_slip"
    assert found["doubts"][0]["guess_g"] == pytest.approx(103.4)
    assert 90 < found["new_bar"]["p10"] < found["new_bar"]["p90"] < 110


@pytest.mark.parametrize(
    ("current", "said"),
    [
        ("batch,bar\n", "has no column formula"),
        (HEAD + "a,plain,b1,0.2,0,heavy\n", "weight_g is “heavy”"),
        (HEAD + "a,plain,b1,0.2,0\n", "cells are missing"),
        (HEAD + "a,plain,b1,0.2,0,110\na,plain,b1,0.2,0,111\n", "two weights on day 0"),
        (HEAD + "a,plain,b1,1.2,0,110\n", "between 0 and 1"),
        (HEAD + "a,plain,b1,0.2,0,110\na,plain,b1,0.3,7,104\n", "another formula or water_fraction"),
    ],
)
def test_what_is_wrong_in_a_file_is_said_and_nothing_is_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], current: str, said: str
) -> None:
    with pytest.raises(SystemExit) as ended:
        ask(tmp_path, current)
    assert ended.value.code == 2
    assert said in capsys.readouterr().err
    assert not (tmp_path / "f.json").exists()


def test_a_place_that_cannot_be_written_is_told_and_left_as_it_was(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "f.json").mkdir()
    with pytest.raises(SystemExit):
        ask(tmp_path, HEAD + ROWS)
    assert f"{tmp_path / 'f.json'} cannot be written" in capsys.readouterr().err
    assert list((tmp_path / "f.json").iterdir()) == []


BARS = "batch,cut_date,bars\na,2026-03-01,24\n"


def test_what_a_house_says_of_days_water_and_label_is_written_too(tmp_path: Path) -> None:
    said = json.loads(ask(tmp_path, HEAD + ROWS, cuts=BARS, params='{"label": {"shelf_months": 3}}').read_text())["a"]
    assert "2026-03-29" <= said["ready_from"] <= said["ready_by"]
    days = said["by_day"]["days"]
    assert len(days) == len(said["by_day"]["water_left_pct"]) == len(said["by_day"]["weight_g"]["b1"])
    assert said["by_day"]["weight_g"]["b1"][days.index(56.0)] == said["bars"]["b1"]
    assert said["at_ready"]["day"] == said["ready_day_p50"]
    assert 0 < said["at_ready"]["water_left_pct"]["p50"] < said["by_day"]["water_left_pct"][0]["p50"]
    label = said["label"]
    assert label["bars"] == 24 and label["chance"] >= 0.95 > label["next_up_chance"]
    assert [day["day"] for day in label["days"]][0] == said["ready_day_p90"]


def test_of_a_label_that_cannot_be_it_is_said_why(tmp_path: Path) -> None:
    none = json.loads(ask(tmp_path, HEAD + ROWS).read_text())["a"]
    assert (none["label"], none["label_why"]) == (None, "Its cut_date and bars are not said.")
    early = json.loads(ask(tmp_path, HEAD + ROWS, cuts=BARS, params='{"label": {"packed_day": 3}}').read_text())["a"]
    assert early["label"] is None and "Bars are packed once they are old enough" in early["label_why"]


@pytest.mark.parametrize(
    ("params", "bars", "said"),
    [
        ('{"label": 3}', "24", "label must hold names and values in braces"),
        ('{"label": {"packed_day": "soon"}}', "24", "label must hold rule, wrap, packed_day"),
        ("{}", "some", "bars is “some”"),
        ("{}", "2.5", "write how many there are"),
    ],
)
def test_what_is_wrong_about_labels_is_said(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], params: str, bars: str, said: str
) -> None:
    with pytest.raises(SystemExit):
        ask(tmp_path, HEAD + ROWS, cuts=BARS.replace("24", bars), params=params)
    assert said in capsys.readouterr().err


CUTS = "batch,cut_date,room\na,2026-03-01,cellar\n"


def log(*rooms: str, humid: str = "55") -> str:
    days = "".join(f"2026-03-{day:02d},{humid},17.5,{room}\n" for room in rooms for day in range(1, 20))
    return f"date,rh_pct,temperature_c,room\n{days}"


def test_several_rooms_have_their_logs_and_one_without_a_name_is_that_of_all(tmp_path: Path) -> None:
    named = ask(tmp_path, HEAD + ROWS, cuts=CUTS, room=log("cellar", "loft")).read_bytes()
    for_all = ask(tmp_path, HEAD + ROWS, cuts=CUTS, room=log("")).read_bytes()
    assert named == for_all
    assert json.loads(named)["a"]["bars"]


@pytest.mark.parametrize(
    ("room", "said"),
    [
        (log("attic"), "no batch is in attic"),
        (log("cellar").replace("17.5", "warm"), "temperature_c is “warm”"),
        (log("cellar", humid="155"), "humidity must lie between 0 and 100 %"),
        (log("cellar").replace("17.5", "175"), "temperature must lie between"),
    ],
)
def test_what_is_wrong_in_a_log_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str], room: str, said: str) -> None:
    with pytest.raises(SystemExit):
        ask(tmp_path, HEAD + ROWS, cuts=CUTS, room=room)
    assert said in capsys.readouterr().err


@pytest.mark.parametrize(
    ("current", "said"),
    [
        ("batch;formula;bar;water_fraction;day;weight_g\n", "commas part cells"),
        (HEAD + ",plain,b1,0.2,0,110\n", "batch is empty"),
        (HEAD + "a,plain, ,0.2,0,110\n", "bar is empty"),
        (HEAD + "a,,b1,0.2,0,110\n", "formula is empty"),
        (HEAD + "a,plain,b1,0.2,0,1e308\n", "no bar has 0 and 1e+308"),
        (HEAD + "a,plain,b1,0.2,0,110\na,plain,b1,0.2,1e300,100\n", "no bar has 1e+300 and 100"),
        (HEAD + "a,plain,b1,0.2,7.1,105\na,plain,b1,0.2,7.3,104\n", "two weights on day 7.3"),
    ],
)
def test_a_cell_that_no_bar_can_have_is_refused_where_it_stands(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], current: str, said: str
) -> None:
    with pytest.raises(SystemExit) as ended:
        ask(tmp_path, current)
    assert ended.value.code == 2
    assert said in capsys.readouterr().err


@pytest.mark.parametrize(
    ("params", "said"),
    [
        ('{"min_days": "abc"}', "min_days is “abc”; write a whole number from 0 to 3650"),
        ('{"min_days": [1]}', "min_days is “[1]”"),
        ('{"min_days": 28.9}', "min_days is “28.9”"),
        ('{"min_days": Infinity}', "min_days is “inf”"),
        ('{"min_days": 60, "soft_ready_after_day": 56}', "soft_ready_after_day is “56”; write a whole number from 60"),
        ('{"ready_threshold_pct_per_week": {}}', "ready_threshold_pct_per_week is “{}”"),
        ('{"ready_threshold_pct_per_week": true}', "ready_threshold_pct_per_week is “True”"),
        ('{"water_left_limit_pct": 0}', "water_left_limit_pct is “0”"),
        ('{"scale_resolution_g": NaN}', "scale_resolution_g is “nan”"),
        ('{"final_day": NaN}', "final_day is “nan”"),
        ('{"final_day": ' + "9" * 400 + "}", "final_day is “999"),
        ('{"label": {"packed_day": 1000000000}}', "days and months are whole numbers"),
        ('{"label": {"shelf_months": 2.5}}', "days and months are whole numbers"),
        ('{"label": {"probability": "NaN"}}', "days and months are whole numbers"),
        ('{"label": {"step_g": 1e-7}}', "step_g of label must be a number from 0.01 to 100"),
    ],
)
def test_a_parameter_that_cannot_be_is_refused_by_its_name(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], params: str, said: str
) -> None:
    with pytest.raises(SystemExit) as ended:
        ask(tmp_path, HEAD + ROWS, cuts=BARS, params=params)
    assert ended.value.code == 2
    assert said in capsys.readouterr().err
    assert not (tmp_path / "f.json").exists()


def test_a_parameter_that_is_null_says_nothing_and_an_unknown_one_is_named(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    plain = ask(tmp_path, HEAD + ROWS).read_bytes()
    assert ask(tmp_path, HEAD + ROWS, params='{"water_left_limit_pct": null, "min_day": 3}').read_bytes() == plain
    assert "passed over: min_day" in capsys.readouterr().out


def test_one_least_age_beyond_the_usual_day_by_which_a_batch_is_late_is_no_contradiction(tmp_path: Path) -> None:
    found = json.loads(ask(tmp_path, HEAD + ROWS, params='{"min_days": 60}').read_text())["a"]
    assert found["ready_day_p10"] == 60
    late = json.loads(ask(tmp_path, HEAD + ROWS, params='{"min_days": 200, "soft_ready_after_day": 220}').read_text())["a"]
    assert late["ready_day_p50"] == 200


@pytest.mark.parametrize(
    ("cuts", "said"),
    [
        ("batch,cut_date\na,0001-01-01\n", "beyond 1900 to 2200"),
        ("batch,cut_date\na,9999-12-31\n", "beyond 1900 to 2200"),
        ("batch,cut_date\na,2026-01-05\na,2026-02-05\n", "another cut_date or room above"),
        ("batch,cut_date,bars\na,2026-01-05,6000\n", "1 to 5000"),
    ],
)
def test_a_cut_that_cannot_be_is_refused_where_it_stands(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], cuts: str, said: str
) -> None:
    with pytest.raises(SystemExit):
        ask(tmp_path, HEAD + ROWS, cuts=cuts)
    assert said in capsys.readouterr().err


@pytest.mark.parametrize(
    ("room", "said"), [("date,rh_pct\n", "has no day"), (log("cellar", humid="0.55"), "never above 1 in cellar; write percent")]
)
def test_a_log_that_says_nothing_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str], room: str, said: str) -> None:
    with pytest.raises(SystemExit):
        ask(tmp_path, HEAD + ROWS, cuts=CUTS, room=room)
    assert said in capsys.readouterr().err


def test_the_order_of_rows_is_no_matter(tmp_path: Path) -> None:
    other = ROWS.replace("a,plain", "b,other").replace("110", "120")
    there, back = (
        json.loads(ask(tmp_path, HEAD + "".join(rows)).read_text())
        for rows in ((ROWS + other).splitlines(keepends=True), (ROWS + other).splitlines(keepends=True)[::-1])
    )
    assert there == back
