"""The forecast of files: what comes out, and what is said of a file that is wrong."""

import json
from pathlib import Path

import pytest
from django.core.management import call_command

HEAD = "batch,formula,bar,water_fraction,day,weight_g\n"
ROWS = "".join(
    f"a,plain,b{bar},0.2,{day},{110 + bar - lost}\n" for bar in (1, 2, 3) for day, lost in ((0, 0), (7, 5.9), (14, 8.6))
)


def ask(folder: Path, current: str, history: str = HEAD) -> Path:
    for name, text in (("h.csv", history), ("c.csv", current)):
        (folder / name).write_text(text, encoding="utf-8")
    out = folder / "f.json"
    call_command("forecast_cure", history=folder / "h.csv", current=folder / "c.csv", out=out)
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
