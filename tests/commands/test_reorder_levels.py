"""Levels from a folder of files: what comes out, and what is said of a file that is wrong."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from django.core.management import call_command

_USES = [f"Olive oil,2026-{month:02}-{day:02},1000" for month in range(1, 7) for day in (4, 11, 18)]
_BOUGHT = "material,supplier,pack_g,minimum_packs,shelf_life_days,on_hand_g,service_level,ordering_cost,unit_cost_per_kg"
FILES = {
    "consumption.csv": "\n".join(["material,date,quantity_g", *_USES]),
    "receipts.csv": "material,supplier,ordered,received\nOlive oil,Hollin,2026-01-02,2026-01-09\n",
    "materials.csv": f"{_BOUGHT}\nOlive oil,Hollin,5000,1,500,4000,.95,12,8\nHemp oil,Hollin,1000,2,200,0,.95,12,15\n",
    "planned_runs.csv": "run,date,material,quantity_g\nR1,2026-07-04,Olive oil,1000\n",
    "meta.json": json.dumps({"as_of": "2026-06-30", "history_start": "2026-01-01"}),
}


@pytest.fixture
def folder(tmp_path: Path) -> Callable[..., Path]:
    def write(**changed: str | None) -> Path:
        for name, content in FILES.items():
            said = changed.get(name.split(".")[0], content)
            if said is not None:
                (tmp_path / name).write_text(said, encoding="utf-8")
        return tmp_path

    return write


def test_each_material_has_a_level_for_each_month_and_an_order_of_whole_packs(folder: Callable[..., Path]) -> None:
    here = folder()
    call_command("reorder_levels", here, out=here / "levels.json")
    found = json.loads((here / "levels.json").read_text(encoding="utf-8"))
    assert list(found) == ["Olive oil", "Hemp oil"]
    olive, hemp = found["Olive oil"], found["Hemp oil"]
    assert (len(olive["reorder_level_g"]), olive["order_quantity_g"] % 5000, olive["order_now_g"]) == (12, 0, 0)
    assert all(level > 0 for level in olive["reorder_level_g"])
    # Nothing was ever used of it: little is held, and no more than the least is bought.
    assert hemp["order_quantity_g"] == 2000
    assert max(hemp["reorder_level_g"]) <= 2000


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"consumption": "material,date\nOlive oil,2026-01-04\n"}, "has no column quantity_g"),
        ({"consumption": "material,date,quantity_g\nOlive oil,4.1.2026,1000\n"}, "line 2: “date” is '4.1.2026'; write a date"),
        ({"consumption": "material,date,quantity_g\nOlive oil,2026-01-04,-5\n"}, "write a number from 0 up"),
        ({"consumption": "material,date,quantity_g\nOlive oil,2026-01-04,nan\n"}, "write a number from 0 up"),
        ({"consumption": "material,date,quantity_g\n,2026-01-04,5\n"}, "“material” is empty"),
        ({"consumption": None}, "consumption.csv cannot be read"),
        (
            {"receipts": "material,supplier,ordered,received\nOlive oil,Hollin,2026-01-09,2026-01-02\n"},
            "received before it was ordered",
        ),
        ({"meta": "[]"}, "must be names and values in braces"),
        ({"meta": '{"as_of": "30.6.2026", "history_start": "2026-01-01"}'}, "as_of is “30.6.2026”; write a date as 2026-01-31"),
        ({"meta": '{"as_of": "2026-06-30", "history_start": "2026-01-01", "delay_cost": -1}'}, "write a number from 0 up"),
        ({"planned_runs": None}, "planned_runs.csv cannot be read"),
        ({"meta": "{}"}, "meta.json has no “as_of”: write it there"),
        ({"meta": '{"as_of": "2026-01-01", "history_start": "2026-06-30"}'}, "history_start lies after as_of"),
        (
            {"meta": '{"as_of": "2026-06-30", "history_start": "2026-01-01", "delay_cost": "much"}'},
            "delay_cost is “much”; write a plain number",
        ),
    ],
)
def test_a_file_that_is_wrong_is_named_with_what_to_do_and_nothing_is_written(
    folder: Callable[..., Path], changed: dict[str, str | None], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    here = folder(**changed)
    with pytest.raises(SystemExit):
        call_command("reorder_levels", here, out=here / "levels.json")
    assert said in "".join(capsys.readouterr())
    assert not (here / "levels.json").exists()
