"""Many weighings that came at once are assessed in short transactions, and a crash in between loses nothing."""

from datetime import timedelta

import pytest

from curehouse.curing.adapter import batch_rows, verdict_at, verdict_fields
from curehouse.curing.models import Assessment, Cure
from curehouse.flows import assess
from curehouse.flows.assess import assess_batch
from curehouse.making.models import Batch
from tests.world import World


class Crash(BaseException):
    """The worker is killed."""


def a_batch_with_much_news(world: World) -> Batch:
    batch = world.batch()
    world.weigh_series(batch, {day: f"{130 - day * 0.3:.1f}" for day in range(29)})
    return batch


def verdicts_of(world: World, batch: Batch) -> int:
    return Assessment.objects.within(world.workshop).filter(batch=batch).count()


@pytest.fixture
def slices(world: World, monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Return where the number of verdicts written under each lock of the cure is put down."""
    written: list[int] = []
    real_lock, real_write = assess.lock_cure, assess.write_assessment

    def lock(**named: object) -> object:
        written.append(0)
        return real_lock(**named)

    def write(**named: object) -> object:
        written[-1] += 1
        return real_write(**named)

    monkeypatch.setattr(assess, "lock_cure", lock)
    monkeypatch.setattr(assess, "write_assessment", write)
    return written


def test_no_transaction_writes_more_than_a_slice_and_every_verdict_is_the_one_of_its_moment(
    world: World, slices: list[int]
) -> None:
    batch = a_batch_with_much_news(world)
    assess_batch(workshop_id=world.workshop.pk, batch_id=batch.pk, at=world.now)
    rows = list(Assessment.objects.within(world.workshop).filter(batch=batch).order_by("pk"))
    assert [row.cause for row in rows] == ["reading"] * 87
    assert slices == [20, 20, 20, 20, 7]
    on_record = batch_rows(batch)
    for row in rows:
        alone = verdict_fields(verdict_at(on_record, world.workshop, moment=row.moment, reading_id=row.reading_id))
        assert (row.state, row.weekly_loss_pct, row.total_loss_pct) == (
            alone["state"], alone["weekly_loss_pct"], alone["total_loss_pct"],
        )  # fmt: skip


def test_a_worker_killed_between_slices_leaves_the_rest_wanted_and_the_next_goes_on(
    world: World, monkeypatch: pytest.MonkeyPatch
) -> None:
    batch = a_batch_with_much_news(world)
    real, calls = assess.verdict_at, []

    def killed(*args: object, **named: object) -> object:
        calls.append(1)
        if len(calls) > 50:
            raise Crash
        return real(*args, **named)

    with monkeypatch.context() as patch, pytest.raises(Crash):
        patch.setattr(assess, "verdict_at", killed)
        assess_batch(workshop_id=world.workshop.pk, batch_id=batch.pk, at=world.now)
    assert verdicts_of(world, batch) == 40
    cure = Cure.objects.within(world.workshop).get(batch=batch)
    assert (cure.assess_wanted_at is None, cure.assessment) == (False, None)
    assess_batch(workshop_id=world.workshop.pk, batch_id=batch.pk, at=world.now + timedelta(minutes=1))
    cure.refresh_from_db()
    assert (cure.assess_wanted_at, cure.assessment.cause) == (None, "reading")
    assert verdicts_of(world, batch) == 87
