"""The database's file is taken away under a running house: the house says so and ends."""

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.house import RunningHouse, wait_until

ENDS_WITHIN_SECONDS = 120


def remove(path: Path) -> None:
    path.unlink()


def replace(path: Path) -> None:
    other = path.with_name("brought-in.sqlite3")
    other.write_bytes(path.read_bytes())
    other.replace(path)


@pytest.mark.parametrize(("happens", "words"), [(remove, "was taken away"), (replace, "was replaced by another file")])
def test_a_house_whose_database_is_gone_ends_with_one_clear_line(
    tmp_path: Path, happens: Callable[[Path], None], words: str
) -> None:
    with RunningHouse(tmp_path / "house") as house:
        happens(house.data / "curehouse.sqlite3")
        wait_until(lambda: house.process.poll() is not None, seconds=ENDS_WITHIN_SECONDS, what="the house to end")
        assert house.process.returncode == 2
        lines = [line for line in house.output().splitlines() if line.startswith("Curehouse: ")]
        assert len(lines) == 1
        assert f"{house.data}/curehouse.sqlite3 {words} while the house was running" in lines[0]
        assert "start --data NEW --restore FILE" in lines[0]
        assert "Traceback" not in house.output()
        wait_until(lambda: not house.alive(), seconds=ENDS_WITHIN_SECONDS, what="its children to end")
