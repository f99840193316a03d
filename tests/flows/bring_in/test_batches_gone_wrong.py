"""What could go wrong with a cure log while it comes in: others at work, a full disk, too much to say."""

from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.db.models import F

from curehouse.common.errors import Conflict
from curehouse.common.full_disk import NoRoom
from curehouse.flows.bring_in import batch_stash, batch_writing, batches
from curehouse.making.models import Batch
from tests.flows.bring_in.logs import bring, dry_run, log, plain, write_csv
from tests.flows.bring_in.test_bring_batches import _folder, _rows_held, kept, nothing_is_here  # noqa: F401  (fixtures)
from tests.world import World

pytestmark = pytest.mark.django_db


def test_batches_that_somebody_changes_meanwhile_are_not_half_brought_in(
    world: World, tmp_path: Path, monkeypatch: Any
) -> None:
    rows = log(batches=3)
    bring(world, plain(tmp_path, [row for row in rows if row.day < 30]))
    before = kept(world)
    locked = batch_writing.lock_batches

    def changed_first(workshop: Any, keys: Any) -> Any:
        Batch.objects.within(workshop).filter(pk__in=keys).update(
            cut_at=F("cut_at") + timedelta(days=40), poured_at=F("poured_at") + timedelta(days=40)
        )
        return locked(workshop, keys)

    monkeypatch.setattr(batch_writing, "lock_batches", changed_first)
    with pytest.raises(Conflict, match="check it again"):
        bring(world, plain(tmp_path, rows, name="longer.csv"))
    assert kept(world) == before


def test_a_full_disk_is_said_and_nothing_comes_in(world: World, tmp_path: Path, monkeypatch: Any) -> None:
    stash = batch_stash.Stash

    def small() -> batch_stash.Stash:
        made = stash()
        made._file.execute("PRAGMA max_page_count = 8")
        return made

    monkeypatch.setattr(batches, "Stash", small)
    with pytest.raises(NoRoom):
        bring(world, plain(tmp_path, log()))
    assert nothing_is_here(world)


def test_what_is_remarked_of_a_file_is_not_crowded_out_by_its_batches(world: World, tmp_path: Path) -> None:
    cut = date(2024, 1, 8)
    headers = ("batch", "formula", "bar", "water_fraction", "cut_date", "date", "weight_g", "still curing")
    said = [(f"C{number}", "Plain", "A", "0.31", cut, cut, "120", "no") for number in range(60)]
    bring(world, write_csv(tmp_path / "first.csv", headers, said))
    again = [(*row[:5], cut + timedelta(days=7), "118", "yes") for row in said] + [
        ("N", "Plain", "A", "0.31", "", cut, "120", "no")
    ]
    remarks = dry_run(world, write_csv(tmp_path / "again.csv", headers, again)).remarks
    assert any("Of 1 batch no cut date is said" in remark for remark in remarks), remarks
    assert any("is closed here" in remark and "59 more" in remark for remark in remarks), remarks
