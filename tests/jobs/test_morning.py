"""A workshop's morning. Clock changes from the IANA time zone database (tzdata)."""

import os
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Any

import pytest

from curehouse.flows.morning import begin_day
from curehouse.notices.models import Delivery, Notice
from curehouse.notices.services import tell
from curehouse.workshops.mornings import claim_morning, morning_due
from curehouse.workshops.services import change_preferences
from tests.world import World


def mornings(world: World, *, start: datetime, hours: int, step_minutes: int = 10) -> list[tuple[date, datetime]]:
    """Walk through time as the tick does and return each morning done, with its moment."""
    done = []
    for minutes in range(0, hours * 60, step_minutes):
        at = start + timedelta(minutes=minutes)
        day = begin_day(workshop_id=world.workshop.pk, at=at)
        if day is not None:
            done.append((day, at))
    return done


def set_morning(world: World, clock: time, time_zone: str, *, done_on: date) -> None:
    change_preferences(workshop=world.workshop, changes={"morning_at": clock, "time_zone": time_zone})
    claim_morning(workshop=world.workshop, day=done_on)


# Europe/Berlin 2026: forward at 01:00 UTC on 29 March, back at 01:00 UTC on 25 October.
def test_morning_comes_once_when_the_clocks_skip_its_hour(world: World) -> None:
    set_morning(world, time(2, 30), "Europe/Berlin", done_on=date(2026, 3, 27))
    done = mornings(world, start=datetime(2026, 3, 28, 0, 0, tzinfo=UTC), hours=60)
    assert done == [
        (date(2026, 3, 28), datetime(2026, 3, 28, 1, 30, tzinfo=UTC)),
        (date(2026, 3, 29), datetime(2026, 3, 29, 1, 30, tzinfo=UTC)),  # the clock shows 03:30
        (date(2026, 3, 30), datetime(2026, 3, 30, 0, 30, tzinfo=UTC)),
    ]


def test_morning_comes_once_when_the_clocks_show_its_hour_twice(world: World) -> None:
    set_morning(world, time(2, 30), "Europe/Berlin", done_on=date(2026, 10, 23))
    done = mornings(world, start=datetime(2026, 10, 23, 22, 0, tzinfo=UTC), hours=72)
    assert done == [
        (date(2026, 10, 24), datetime(2026, 10, 24, 0, 30, tzinfo=UTC)),
        (date(2026, 10, 25), datetime(2026, 10, 25, 0, 30, tzinfo=UTC)),  # the first 02:30
        (date(2026, 10, 26), datetime(2026, 10, 26, 1, 30, tzinfo=UTC)),
    ]


@pytest.mark.parametrize("zone", ["Pacific/Kiritimati", "Pacific/Pago_Pago", "Asia/Kathmandu", "Australia/Lord_Howe"])
def test_morning_is_the_workshops_own_anywhere(world: World, zone: str) -> None:
    set_morning(world, time(6, 30), zone, done_on=date(2026, 4, 1))
    done = mornings(world, start=datetime(2026, 4, 2, 12, 0, tzinfo=UTC), hours=96)
    days = [day for day, _ in done]
    assert days == [days[0] + timedelta(days=n) for n in range(len(days))]
    assert len(days) in {4, 5}


def test_morning_missed_while_the_house_was_off_is_made_up_for_the_same_day_only(world: World) -> None:
    set_morning(world, time(6, 30), "Europe/Berlin", done_on=date(2026, 3, 5))
    evening_four_days_later = datetime(2026, 3, 9, 19, 0, tzinfo=UTC)
    done = mornings(world, start=evening_four_days_later, hours=24)
    assert [day for day, _ in done] == [date(2026, 3, 9), date(2026, 3, 10)]


def test_morning_does_not_come_before_its_time(world: World) -> None:
    set_morning(world, time(6, 30), "Europe/Berlin", done_on=date(2026, 3, 9))
    just_before = datetime(2026, 3, 10, 5, 29, 59, tzinfo=UTC)
    assert morning_due(workshop=world.workshop, at=just_before) is None
    assert morning_due(workshop=world.workshop, at=just_before + timedelta(seconds=1)) == date(2026, 3, 10)


def test_morning_is_claimed_once(world: World) -> None:
    assert claim_morning(workshop=world.workshop, day=date(2026, 3, 10))
    assert not claim_morning(workshop=world.workshop, day=date(2026, 3, 10))
    assert not claim_morning(workshop=world.workshop, day=date(2026, 3, 9))


def test_morning_does_not_come_again_when_the_workshop_moves_west_of_midnight(world: World) -> None:
    set_morning(world, time(0, 30), "Europe/Berlin", done_on=date(2026, 3, 10))
    change_preferences(workshop=world.workshop, changes={"time_zone": "America/New_York"})
    world.workshop.refresh_from_db()
    still_the_ninth = datetime(2026, 3, 10, 3, 30, tzinfo=UTC)
    assert morning_due(workshop=world.workshop, at=still_the_ninth - timedelta(hours=2)) is None
    assert morning_due(workshop=world.workshop, at=still_the_ninth) is None
    done = mornings(world, start=datetime(2026, 3, 10, 1, 0, tzinfo=UTC), hours=30)
    assert [day for day, _ in done] == [date(2026, 3, 11)]


def test_morning_that_another_worker_did_meanwhile_is_not_told_again(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    world.batch(cut_days_ago=10)

    def overtaken(**_: object) -> None:
        monkeypatch.undo()
        assert begin_day(workshop_id=world.workshop.pk, at=world.now) == world.now.date()

    monkeypatch.setattr("curehouse.flows.morning.assess_all_this_morning", overtaken)
    assert begin_day(workshop_id=world.workshop.pk, at=world.now) is None
    assert sorted(one.kind for one in Notice.objects.within(world.workshop)) == ["morning", "turn", "weigh"]


def test_morning_of_a_workshop_that_is_gone_is_left_quietly(world: World) -> None:
    assert begin_day(workshop_id=world.workshop.pk + 1, at=world.now) is None


def test_morning_removes_what_was_left_half_written(world: World, settings: Any, tmp_path: Path) -> None:
    settings.DATA_FOLDER = tmp_path
    draft = tmp_path / ".upload-00ff"
    draft.write_bytes(b"half")
    os.utime(draft, (world.now.timestamp() - 2 * 86_400,) * 2)
    begin_day(workshop_id=world.workshop.pk, at=world.now)
    assert not draft.exists()


def test_morning_tells_what_to_weigh_and_sends_the_digest(world: World) -> None:
    batch = world.batch(cut_days_ago=5)
    begin_day(workshop_id=world.workshop.pk, at=world.now)
    weigh, digest = Notice.objects.within(world.workshop).order_by("pk")
    due = world.now.date() - timedelta(days=5)
    assert (weigh.key, weigh.title, weigh.path) == (
        f"weigh:batch:{batch.pk}:{due}",
        f"Weigh {batch}",
        f"/batches/{batch.pk}/",
    )
    assert (digest.key, digest.title) == (
        "morning:2026-03-10",
        "Fennel Yard Soapworks, Tue 10 Mar: one thing to see to",
    )
    assert [one.notice_id for one in Delivery.objects.within(world.workshop)] == [digest.pk]


def test_batch_due_is_told_once_a_due_day_and_closed_when_weighed(world: World) -> None:
    batch = world.batch(cut_days_ago=10)
    for later in (0, 1):
        begin_day(workshop_id=world.workshop.pk, at=world.now + timedelta(days=later))
    weigh = Notice.objects.within(world.workshop).get(kind="weigh")
    world.weigh(world.bar(batch), "118.6", moment=world.now + timedelta(days=1, hours=1))
    weigh.refresh_from_db()
    assert (weigh.state, weigh.closed_why) == ("done", "The batch was weighed.")


def test_what_is_to_be_weighed_says_when_it_was_weighed_last_as_pages_do(world: World) -> None:
    batch = world.batch(cut_days_ago=14)
    world.weigh_series(batch, {0: "130.0", 7: "124.0"})
    begin_day(workshop_id=world.workshop.pk, at=world.now)
    weigh = Notice.objects.within(world.workshop).get(kind="weigh")
    assert weigh.body == "Its sample bars were last weighed on Tue 3 Mar."


def test_weigh_notice_of_another_day_says_the_day_that_is_due(world: World) -> None:
    batch = world.batch(cut_days_ago=0.1)
    tell(
        workshop=world.workshop,
        key=f"weigh:batch:{batch.pk}:2026-03-03",
        kind="weigh",
        about=f"batch:{batch.pk}",
        mark="",
        title="Weigh",
        body="",
        path="/",
        at=world.now,
    )
    begin_day(workshop_id=world.workshop.pk, at=world.now)
    assert Notice.objects.within(world.workshop).of_kind("weigh").get().key.endswith(":2026-03-10")


def test_morning_begun_again_after_it_was_cut_off_tells_nothing_twice(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    world.batch(cut_days_ago=10)

    class CutOff(Exception):
        pass

    def cut_off(**_: object) -> None:
        raise CutOff

    with monkeypatch.context() as broken:
        broken.setattr("curehouse.flows.morning.tell_morning", cut_off)
        with pytest.raises(CutOff):
            begin_day(workshop_id=world.workshop.pk, at=world.now)
    assert not Notice.objects.within(world.workshop).exists()
    assert begin_day(workshop_id=world.workshop.pk, at=world.now) == world.now.date()
    assert begin_day(workshop_id=world.workshop.pk, at=world.now) is None
    assert sorted(one.kind for one in Notice.objects.within(world.workshop)) == ["morning", "turn", "weigh"]
