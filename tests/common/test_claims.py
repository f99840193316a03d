"""Work is claimed by one conditional write and comes free when its lease runs out."""

from datetime import timedelta

from curehouse.common.claims import claim
from curehouse.notices.models import Delivery
from curehouse.notices.services import tell
from tests.world import World

LEASE = timedelta(minutes=2)


def a_delivery(world: World) -> Delivery:
    tell(
        workshop=world.workshop, key="ready:batch:1:1", kind="ready", about="batch:1", mark="ready",
        title="Ready", body="It is.", path="/", at=world.now,
    )  # fmt: skip
    return Delivery.objects.within(world.workshop).get()


def of(delivery: Delivery):
    return Delivery.unscoped.filter(pk=delivery.pk)


def test_what_is_claimed_is_not_claimed_again_within_its_lease(world: World) -> None:
    row = a_delivery(world)
    assert claim(of(row), at=world.now, lease=LEASE)
    assert not claim(of(row), at=world.now + LEASE - timedelta(seconds=1), lease=LEASE)


def test_what_a_dead_worker_left_comes_free_when_its_lease_ends(world: World) -> None:
    row = a_delivery(world)
    claim(of(row), at=world.now, lease=LEASE)
    assert claim(of(row), at=world.now + LEASE, lease=LEASE)


def test_a_claim_writes_what_goes_with_it_only_when_it_wins(world: World) -> None:
    row = a_delivery(world)
    claim(of(row), at=world.now, lease=LEASE, attempts=1, state=Delivery.State.SENDING)
    claim(of(row), at=world.now, lease=LEASE, attempts=2)
    row.refresh_from_db()
    assert (row.attempts, row.state, row.claimed_until) == (1, Delivery.State.SENDING, world.now + LEASE)


def test_a_row_that_is_gone_is_not_won(world: World) -> None:
    assert not claim(Delivery.unscoped.filter(pk=0), at=world.now, lease=LEASE)
