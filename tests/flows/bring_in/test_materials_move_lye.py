"""A list of materials that moves the lye of poured versions says so in its check, before anything is written."""

from pathlib import Path
from typing import Any

import pytest

from curehouse.flows.bring_in.door import bring_at_once, check_at_once, first_options
from curehouse.flows.bring_in.kinds import kind_called
from curehouse.flows.bring_in.options import Options
from curehouse.flows.bring_in.outcome import Outcome
from curehouse.making.models import MaterialFacts
from tests.flows.bring_in.logs import write_csv
from tests.flows.test_poured_lye import make, pour
from tests.world import World

pytestmark = pytest.mark.django_db

HEAD = ("Material", "Kind", "In the list", "Saponification low", "Saponification high", "Source")
OLIVE, NEW = ("Olive oil", "fat", "", "195", "197", ""), ("New oil", "fat", "", "195", "197", "")


@pytest.fixture(autouse=True)
def _folder(settings: Any, tmp_path: Path) -> None:
    settings.DATA_FOLDER = tmp_path / "house"
    settings.DATA_FOLDER.mkdir()


@pytest.fixture
def poured(world: World) -> str:
    version = make(world, world.material("Olive oil"))
    pour(world, version)
    return str(version)


def list_of(world: World, folder: Path, *rows: tuple[str, ...], is_check: bool = False) -> Outcome:
    given = write_csv(folder / "materials.csv", HEAD, rows)
    options = first_options(world.actor, kind_called("materials"), given.path, None, Options())
    verb = check_at_once if is_check else bring_at_once
    return verb(actor=world.actor, kind="materials", given=given, beside=None, options=options, at=world.now)


def test_the_check_says_which_lye_moves_and_writes_nothing(world: World, tmp_path: Path, poured: str) -> None:
    check = list_of(world, tmp_path, OLIVE, NEW, is_check=True)
    said = check.remarks[0]
    assert said.startswith("By what the file says of Olive oil, versions that were poured ask for other lye.")
    assert f"{poured}: lye from 128.6 g to 132.7 g" in said
    assert not MaterialFacts.objects.within(world.workshop).exists()
    assert list_of(world, tmp_path, OLIVE, NEW).remarks == check.remarks
    assert MaterialFacts.objects.within(world.workshop).get(material__name="Olive oil").saponification_low == 195


def test_a_list_that_moves_no_lye_says_nothing_of_it(world: World, tmp_path: Path, poured: str) -> None:
    same = ("Olive oil", "fat", "olive oil", "", "", "the mill")
    assert not [remark for remark in list_of(world, tmp_path, same, NEW).remarks if "poured" in remark]
    assert MaterialFacts.objects.within(world.workshop).filter(material__name="Olive oil").exists()
