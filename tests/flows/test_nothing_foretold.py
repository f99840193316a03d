"""Nothing is foretold of a batch any more, and what was told of its forecast ends."""

from datetime import timedelta
from typing import Any

import pytest

from curehouse.curing.models import Cure, Reading
from curehouse.flows import foretell as flow
from curehouse.flows.foretell import foretell_wanting
from curehouse.flows.morning import begin_day
from curehouse.flows.weigh import strike
from curehouse.making.models import Batch
from curehouse.notices.models import Notice
from tests.flows.test_foretell import cured
from tests.world import World

pytestmark = pytest.mark.django_db


@pytest.fixture
def soon(world: World) -> Batch:
    """Return a batch of which is told that it is likely ready within a week."""
    batch = cured(world, days_ago=34, last=21)
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    assert told(world) == [("ready_soon", "open", "")]
    return batch


def told(world: World) -> list[tuple[str, str, str]]:
    rows = Notice.objects.within(world.workshop).filter(kind__in=["ready_soon", "soft_likely", "moved"]).order_by("pk")
    return [(one.kind, one.state, one.closed_why) for one in rows]


def strike_all(world: World, batch: Batch) -> None:
    for reading in Reading.objects.within(world.workshop).filter(bar__batch=batch):
        strike(actor=world.actor, reading=reading, reason="another batch's bars", at=world.now)


ENDED = [("ready_soon", "withdrawn", "Nothing is foretold of it now: none of its weighings counts.")]


def test_what_was_told_ends_when_every_weighing_is_struck_out(world: World, soon: Batch) -> None:
    strike_all(world, soon)
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    assert Cure.objects.within(world.workshop).get(batch=soon).forecast is None
    assert told(world) == ENDED


def test_what_was_told_comes_back_with_the_next_forecast(world: World, soon: Batch) -> None:
    strike_all(world, soon)
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    world.weigh_series(soon, {21: "121.0", 28: "119.5"})
    foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    assert [state for kind, state, _why in told(world) if kind == "ready_soon"] == ["open"]


def test_the_morning_ends_what_a_worker_that_died_did_not(world: World, soon: Batch, monkeypatch: pytest.MonkeyPatch) -> None:
    strike_all(world, soon)

    def killed(**_also: Any) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(flow, "renew_outlooks", killed)
        with pytest.raises(KeyboardInterrupt):
            foretell_wanting(workshop_id=world.workshop.pk, at=world.now)
    assert told(world)[0][1] == "open"
    begin_day(workshop_id=world.workshop.pk, at=world.now + timedelta(days=1))
    assert told(world) == ENDED
