"""Of bars that may go to nobody, nothing is promised: no notice that they are soon dry, and no label."""

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest

from curehouse.common.errors import Conflict
from curehouse.curing.models import Cure, LabelWeight
from curehouse.curing.obstacles import obstacles_of
from curehouse.curing.services.labels import keep_label
from curehouse.flows.assess import assess_all_this_morning
from curehouse.flows.forecast_notices import renew_all_outlooks
from curehouse.flows.rule_lot import rule_and_hold
from curehouse.flows.use_stock import UseLine, book_use
from curehouse.making.models import Batch
from curehouse.making.services import hold_batch, lift_hold, lock_batch
from curehouse.notices.models import Notice
from tests.curing.test_labels import asked
from tests.curing.test_labels import foretold as weighed_and_foretold
from tests.flows.test_forecast_notices import batch, foretold, newest, told  # noqa: F401  (a fixture)
from tests.web.visitor import pass_or_fail, soft_batch
from tests.world import World

pytestmark = pytest.mark.django_db

SOON = (20, 26, 40)


def codes(batch: Batch) -> list[str]:  # noqa: F811
    cure = Cure.objects.within(batch.workshop).going_on().with_obstacles().get(batch=batch)
    return [one.code for one in obstacles_of(cure)]


def hold(world: World, held: Batch) -> Any:
    return hold_batch(actor=world.actor, batch=lock_batch(held), cause="oil smells off", reason="by nose", at=world.now)


def test_a_check_that_fails_ends_what_was_promised_at_once_and_one_that_passes_brings_it_back(
    world: World,
    batch: Batch,  # noqa: F811
) -> None:
    foretold(world, batch, SOON)
    foretold(world, batch, (20, 27, 40))
    foretold(world, batch, (44, 47, 52), weighings=4)
    foretold(world, batch, (24, 27, 30), weighings=4)
    assert ("moved", "open") in told(world) and ("ready_soon", "open") in told(world)
    pass_or_fail(world, batch, passed=False)
    assert {state for _kind, state in told(world)} == {"withdrawn"}
    assert newest(world, "ready_soon").closed_why == "Checked on Tue 10 Mar, and it failed."
    renew_all_outlooks(workshop=world.workshop, at=world.now + timedelta(days=1))
    assert {state for _kind, state in told(world)} == {"withdrawn"}
    pass_or_fail(world, batch, passed=True)
    renew_all_outlooks(workshop=world.workshop, at=world.now + timedelta(days=1))
    assert ("ready_soon", "open") in told(world)


def test_nothing_is_begun_of_a_batch_that_failed_before(world: World, batch: Batch) -> None:  # noqa: F811
    pass_or_fail(world, batch, passed=False)
    foretold(world, batch, SOON)
    foretold(world, batch, (44, 47, 52))
    assert told(world) == []


def test_of_a_batch_that_is_held_nothing_is_promised_until_a_person_lifts_it(world: World, batch: Batch) -> None:  # noqa: F811
    foretold(world, batch, SOON)
    row = hold(world, batch)
    renew_all_outlooks(workshop=world.workshop, at=world.now)
    assert told(world) == [("ready_soon", "withdrawn")]
    assert "is held: oil smells off" in newest(world, "ready_soon").closed_why
    lift_hold(actor=world.actor, hold=row, why="it was the tin", at=world.now)
    renew_all_outlooks(workshop=world.workshop, at=world.now)
    assert told(world) == [("ready_soon", "open")]


@pytest.mark.parametrize("late", [False, True], ids=["it was in quarantine as it went in", "it was rejected afterwards"])
def test_a_lot_that_is_not_to_be_used_ends_what_was_promised_at_once(
    world: World,
    batch: Batch,  # noqa: F811
    late: bool,
) -> None:
    foretold(world, batch, SOON)
    lot = world.lot("5000", standing="released" if late else "quarantine")
    reason = "" if late else "nothing else was here"
    book_use(
        actor=world.actor, batch=batch, lines=[UseLine(lot, Decimal(100), reason)], used_at=world.days_ago(20), at=world.now
    )
    if late:
        assert told(world) == [("ready_soon", "open")]
        rule_and_hold(actor=world.actor, lot=lot, standing="rejected", why="rancid", at=world.now)
    assert told(world) == [("ready_soon", "withdrawn")]
    assert codes(batch) == ["held"]


def test_a_batch_that_may_be_caustic_is_told_with_its_check_named_first(world: World, batch: Batch) -> None:  # noqa: F811
    Batch.objects.within(world.workshop).filter(pk=batch.pk).update(needs_check=True)
    foretold(world, batch, SOON)
    notice = newest(world, "ready_soon")
    assert notice.title == f"{batch} is likely dry enough within a week"
    assert notice.body.splitlines()[0] == (
        f"{batch} may be caustic by the lots it took: pass its safety check before bars leave, or destroy them."
    )
    pass_or_fail(world, batch, passed=True)
    renew_all_outlooks(workshop=world.workshop, at=world.now)
    assert newest(world, "ready_soon").body.startswith("Dry enough ")
    assert codes(batch) == []


def test_a_batch_measured_too_soft_stays_so_where_nobody_weighs_it_any_more(world: World) -> None:
    soft = soft_batch(world)
    assert codes(soft) == ["too_soft"]
    world.now += timedelta(days=20)
    assess_all_this_morning(workshop=world.workshop, at=world.now)
    assert Cure.objects.within(world.workshop).get(batch=soft).state == "not_weighed"
    assert codes(soft) == ["too_soft"]
    foretold(world, soft, (66, 86, 100))
    assert "ready_soon" not in {kind for kind, _state in told(world)}


@pytest.mark.parametrize(
    ("how", "says"),
    [("failed", "failed, so these bars go to nobody: test again after a week"), ("held", "is held: oil smells off. Lift the")],
)
def test_no_label_is_kept_of_bars_that_go_to_nobody(world: World, how: str, says: str) -> None:
    labelled = weighed_and_foretold(world)
    if how == "failed":
        pass_or_fail(world, labelled, passed=False)
    else:
        hold(world, labelled)
    with pytest.raises(Conflict, match=says) as refused:
        keep_label(actor=world.actor, batch=labelled, asked=asked(labelled), at=world.now)
    assert refused.value.code == {"failed": "check_failed", "held": "held"}[how]
    assert not LabelWeight.objects.within(world.workshop).exists()


def test_what_was_sent_with_the_digest_names_no_batch_that_failed(world: World, batch: Batch) -> None:  # noqa: F811
    foretold(world, batch, SOON)
    pass_or_fail(world, batch, passed=False)
    open_now = Notice.objects.within(world.workshop).open()
    assert not open_now.filter(kind__in=["ready_soon", "moved"]).exists()
    assert open_now.filter(kind="check_failed").exists()
