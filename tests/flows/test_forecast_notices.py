"""What is told of a cure before it is over, and how what is measured ends it."""

from datetime import timedelta

import pytest

from curehouse.curing.models import Cure, CureRecord, Forecast
from curehouse.flows.assess import assess_batch
from curehouse.flows.forecast_notices import renew_all_outlooks
from curehouse.flows.morning import begin_day
from curehouse.making.models import Batch
from curehouse.notices.models import Delivery, Notice
from curehouse.notices.services import see_to, withdraw
from tests.world import World

pytestmark = pytest.mark.django_db

RULE = {"min_days": 28, "latest_day": 56, "horizon_days": 126}


@pytest.fixture
def batch(world: World) -> Batch:
    batch = world.batch(cut_days_ago=20, formula_name="Goat & oat")
    world.weigh_series(batch, {0: "130.0", 7: "124.6", 14: "122.4"})
    return batch


def foretold(
    world: World,
    batch: Batch,
    ready: tuple[float, float, float],
    *,
    soft: float = 0.0,
    weighings: int = 3,
    days: int = 0,
) -> None:
    """Let the batch go by a forecast that says so, and the house tell what there is to tell some days on."""
    number = CureRecord.unscoped.count()
    record = CureRecord.unscoped.create(workshop=world.workshop, fingerprint=f"{number}", content={})
    row = Forecast.unscoped.create(
        workshop=world.workshop,
        batch=batch,
        moment=world.days_ago(6),
        method="by hand",
        fingerprint=f"{number}",
        record=record,
        asked={"rule": RULE, "days": []},
        foretold={
            "ready_day": dict(zip(("p10", "p50", "p90"), ready, strict=True)),
            "soft_probability": soft,
            "weighings": weighings,
        },
        written_at=world.now,
    )
    Cure.objects.within(world.workshop).filter(batch=batch).update(forecast=row)
    renew_all_outlooks(workshop=world.workshop, at=world.now + timedelta(days=days))


def told(world: World) -> list[tuple[str, str]]:
    rows = Notice.objects.within(world.workshop).filter(kind__in=["soft_likely", "ready_soon", "moved"])
    return [(one.kind, one.state) for one in rows.order_by("pk")]


def newest(world: World, kind: str) -> Notice:
    return Notice.objects.within(world.workshop).filter(kind=kind).order_by("-pk")[0]


def test_a_batch_likely_ready_within_a_week_is_told_once_and_sent_with_the_digest_only(world: World, batch: Batch) -> None:
    foretold(world, batch, (28, 29, 33))
    assert told(world) == []
    # Cut 20 days ago: tomorrow its middle is eight days off, on the day after seven.
    renew_all_outlooks(workshop=world.workshop, at=world.now + timedelta(days=1))
    assert told(world) == []
    for _ in range(2):
        renew_all_outlooks(workshop=world.workshop, at=world.now + timedelta(days=2))
    assert told(world) == [("ready_soon", "open")]
    notice = newest(world, "ready_soon")
    assert (notice.title, notice.mark, notice.path) == (
        f"{batch} is likely dry enough within a week",
        "ready_soon",
        f"/batches/{batch.pk}/",
    )
    assert notice.body.splitlines() == [
        "Dry enough Wed 18 Mar – Mon 23 Mar.",
        "8 of 10 such batches are dry enough between those days, half by Thu 19 Mar.",
        "Have its safety check at hand, and what it is wrapped in.",
    ]
    assert not Delivery.objects.within(world.workshop).filter(notice=notice).exists()


def test_soon_goes_when_it_takes_longer_and_comes_back_but_not_where_a_person_saw_to_it(world: World, batch: Batch) -> None:
    foretold(world, batch, (20, 26, 40))
    foretold(world, batch, (20, 30, 40))
    assert told(world) == [("ready_soon", "open")]
    foretold(world, batch, (20, 36, 40))
    assert told(world) == [("ready_soon", "withdrawn")]
    foretold(world, batch, (20, 26, 40))
    assert told(world) == [("ready_soon", "open")]
    see_to(actor=world.actor, notice=newest(world, "ready_soon"), at=world.now)
    foretold(world, batch, (20, 25, 40))
    assert told(world) == [("ready_soon", "done")]


def test_soon_ends_when_its_days_have_passed_and_says_to_weigh(world: World, batch: Batch) -> None:
    foretold(world, batch, (24.0, 26.0, 29.0), days=9)
    assert told(world) == [("ready_soon", "open")]
    renew_all_outlooks(workshop=world.workshop, at=world.now + timedelta(days=10))
    assert told(world) == [("ready_soon", "withdrawn")]
    notice = Notice.objects.within(world.workshop).get(kind="ready_soon")
    assert notice.closed_why == "The days it was foretold for have passed: weigh it, and you know."


def test_a_move_is_told_when_the_middle_leaves_the_range_told_last_and_again_from_there(world: World, batch: Batch) -> None:
    foretold(world, batch, (34, 38, 44), weighings=2)
    foretold(world, batch, (36, 43, 50))
    assert told(world) == []
    foretold(world, batch, (42, 46, 52), weighings=4)
    assert told(world) == [("moved", "open")]
    notice = newest(world, "moved")
    assert notice.title == f"{batch} takes longer to dry than foretold"
    assert notice.body.splitlines() == [
        "It was foretold to be dry enough Tue 24 Mar – Fri 3 Apr.",
        "Dry enough Wed 1 Apr – Sat 11 Apr.",
        "8 of 10 such batches are dry enough between those days, half by Sun 5 Apr.",
        "By 2 more weighings of it.",
        "Look whom you promised it, and when.",
    ]
    foretold(world, batch, (43, 50, 55))
    assert told(world) == [("moved", "open")]
    foretold(world, batch, (33, 36, 40), weighings=4)
    # One notice of a batch stands, and says the newest: nobody reads through what it was on the way.
    assert told(world) == [("moved", "open")]
    assert newest(world, "moved").pk == notice.pk
    assert newest(world, "moved").title == f"{batch} dries sooner than foretold"
    assert newest(world, "moved").body.startswith("It was foretold to be dry enough Wed 1 Apr – Sat 11 Apr.")
    assert "By what the house has learnt since" in newest(world, "moved").body


def test_a_move_that_was_seen_to_is_told_anew_and_one_that_was_withdrawn_stands_again(world: World, batch: Batch) -> None:
    foretold(world, batch, (34, 38, 44), weighings=2)
    foretold(world, batch, (42, 46, 52))
    see_to(actor=world.actor, notice=newest(world, "moved"), at=world.now)
    foretold(world, batch, (50, 54, 58))
    assert told(world) == [("moved", "done"), ("moved", "open")]
    withdraw(workshop=world.workshop, about=f"batch:{batch.pk}", reason="It is held.", at=world.now)
    foretold(world, batch, (33, 36, 40))
    assert told(world) == [("moved", "done"), ("moved", "open")]
    assert newest(world, "moved").title == f"{batch} dries sooner than foretold"
    assert (newest(world, "moved").closed_at, newest(world, "moved").closed_why) == (None, "")


def test_a_day_or_two_outside_a_narrow_range_is_no_news(world: World, batch: Batch) -> None:
    foretold(world, batch, (35, 35, 35))
    foretold(world, batch, (37, 37, 37))
    assert told(world) == []


def test_likely_too_soft_is_told_early_with_what_shows_and_what_to_do(world: World, batch: Batch) -> None:
    foretold(world, batch, (50, 60, 90), soft=0.45)
    assert told(world) == []
    foretold(world, batch, (50, 60, 90), soft=0.58)
    assert told(world) == [("soft_likely", "open")]
    notice = newest(world, "soft_likely")
    assert notice.title == f"{batch} may stay too soft"
    first, *rest = notice.body.replace("\u00a0", " ").splitlines()
    assert first == "About 6 of 10 such batches stay too soft: they are not dry enough by day 56."
    assert any("Leave it on the rack with air on all sides" in one for one in rest)
    foretold(world, batch, (50, 60, 90), soft=0.3)
    assert told(world) == [("soft_likely", "open")]
    foretold(world, batch, (48, 57, 70), soft=0.2)
    assert told(world) == [("soft_likely", "withdrawn")]


def test_likely_too_soft_is_told_up_to_the_latest_day_and_then_asks_to_be_weighed(world: World, batch: Batch) -> None:
    # Cut 20 days ago: the latest day, 56, comes in 36 days.
    foretold(world, batch, (50, 60, 90), soft=0.58, days=36)
    assert told(world) == [("soft_likely", "open")]
    foretold(world, batch, (50, 60, 90), soft=0.6, days=37)
    assert told(world) == [("soft_likely", "withdrawn")]
    assert "Its latest day, day 56, has passed: weigh it" in newest(world, "soft_likely").closed_why.replace("\u00a0", " ")


def test_nothing_likely_is_told_for_the_first_time_once_the_latest_day_has_passed(world: World, batch: Batch) -> None:
    foretold(world, batch, (50, 60, 90), soft=0.58, days=37)
    assert told(world) == []


def test_what_is_measured_ends_what_was_foretold(world: World, batch: Batch) -> None:
    foretold(world, batch, (20, 26, 40), soft=0.1)
    foretold(world, batch, (30, 50, 60), soft=0.6)
    assert sorted(told(world)) == [("moved", "open"), ("ready_soon", "withdrawn"), ("soft_likely", "open")]
    late = world.now + timedelta(days=40)
    world.now = late
    world.weigh_series(batch, {50: "119.0", 57: "117.0"})
    assess_batch(workshop_id=world.workshop.pk, batch_id=batch.pk, at=late)
    assert Cure.objects.within(world.workshop).get(batch=batch).state == "too_soft"
    assert {state for _kind, state in told(world)} == {"withdrawn"}
    assert newest(world, "too_soft").state == "open"
    renew_all_outlooks(workshop=world.workshop, at=late)
    assert {state for _kind, state in told(world)} == {"withdrawn"}


def test_the_morning_foretells_and_tells_in_the_days_digest(world: World, batch: Batch) -> None:
    assert begin_day(workshop_id=world.workshop.pk, at=world.now + timedelta(days=12)) is not None
    cure = Cure.objects.within(world.workshop).select_related("forecast").get(batch=batch)
    # The figures are the house's own: what is told has to follow from them.
    middle, soft = cure.forecast.foretold["ready_day"]["p50"], cure.forecast.foretold["soft_probability"]
    assert (("ready_soon", "open") in told(world)) == (round(middle) - 32 <= 7 and soft < 0.5)
    digest = newest(world, "morning").body
    for kind, _state in told(world):
        assert newest(world, kind).title in digest


def test_queries_are_as_many_for_twelve_batches_as_for_two(world: World, django_assert_max_num_queries) -> None:
    for number in range(12):
        batch = world.batch(cut_days_ago=20, formula_name=f"Plain {number}")
        foretold(world, batch, (30, 38, 44))
    with django_assert_max_num_queries(9):
        renew_all_outlooks(workshop=world.workshop, at=world.now)
