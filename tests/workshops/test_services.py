"""People, workshops, scales and devices."""

from datetime import time, timedelta
from decimal import Decimal

import pytest

from curehouse.common.errors import Conflict, Forbidden, Invalid
from curehouse.workshops.actors import the_house
from curehouse.workshops.models import DeviceToken, Member, Scale, Workshop
from curehouse.workshops.services import (
    add_scale,
    begin_submission,
    change_preferences,
    check_scale,
    find_token,
    finish_submission,
    give_token,
    retire_scale,
    revoke_token,
)
from tests.factories import PersonFactory, WorkshopFactory
from tests.world import PASSWORD, World


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"email": "ottilie"}, "email"),
        ({"email": "x" * 64 + "@" + "y" * 60 + "." + "z" * 60 + "." + "q" * 60 + "." + "w" * 10 + ".example"}, "email"),
        ({"name": ""}, "name"),
        ({"name": "Ottilie\x07"}, "name"),
        ({"password": "short"}, "password"),
        ({"password": "12345678901234"}, "password"),
        ({"password": "ottiliebrandt", "name": "Ottiliebrandt"}, "password"),
    ],
)
def test_a_person_who_cannot_sign_in_is_refused_by_field(db: None, changes: dict[str, str], field: str) -> None:
    with pytest.raises(Invalid) as refused:
        PersonFactory(**changes)
    assert refused.value.field == field


def test_an_address_is_one_person_however_it_is_typed(db: None) -> None:
    person = PersonFactory(email=" Wren@Thistlewick.Example ")
    assert (person.email, person.check_password(PASSWORD)) == ("wren@thistlewick.example", True)
    with pytest.raises(Invalid) as refused:
        PersonFactory(email="WREN@thistlewick.example")
    assert refused.value.code == "email_taken"


def test_a_workshop_opens_with_its_owner_in_it_and_its_first_morning_done(world: World) -> None:
    assert Member.objects.within(world.workshop).get().role == Member.Role.OWNER
    assert world.workshop.morning_done_on == (world.now - timedelta(days=400)).date()
    assert list(Workshop.objects.of(world.owner)) == [world.workshop]


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"name": "  "}, "workshop_name"),
        ({"unit": "lb"}, "unit"),
        ({"time_zone": "Berlin"}, "time_zone"),
        ({"currency": "€"}, "currency"),
        ({"round_days": ()}, "round_days"),
        ({"round_days": (7,)}, "round_days"),
    ],
)
def test_a_workshop_that_cannot_be_is_refused_by_field(db: None, changes: dict[str, object], field: str) -> None:
    with pytest.raises(Invalid) as refused:
        WorkshopFactory(**changes)
    assert refused.value.field == field
    assert not Workshop.objects.exists()


def test_round_days_are_kept_once_and_in_order(db: None) -> None:
    assert WorkshopFactory(round_days=(4, 1, 4)).round_days == [1, 4]


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"min_days": 0}, "min_days"),
        ({"min_days": 56}, "latest_day"),
        ({"latest_day": 28}, "latest_day"),
        ({"latest_day": 731}, "latest_day"),
        ({"min_days": 40_000, "latest_day": 50_000}, "latest_day"),
        ({"weekly_loss_limit_pct": Decimal(0)}, "weekly_loss_limit_pct"),
        ({"weekly_loss_limit_pct": Decimal("0.0004")}, "weekly_loss_limit_pct"),
        ({"weekly_loss_limit_pct": Decimal("10.1")}, "weekly_loss_limit_pct"),
        ({"weekly_loss_limit_pct": Decimal(123456)}, "weekly_loss_limit_pct"),
        ({"water_left_limit_pct": Decimal(0)}, "water_left_limit_pct"),
        ({"water_left_limit_pct": Decimal("99.995")}, "water_left_limit_pct"),
        ({"check_limit": "x" * 201}, "check_limit"),
        ({"round_days": []}, "round_days"),
    ],
)
def test_a_preference_that_cannot_be_is_refused_by_field_and_changes_nothing(
    world: World, changes: dict[str, object], field: str
) -> None:
    with pytest.raises(Invalid) as refused:
        change_preferences(workshop=world.workshop, changes={"name": "Another name", **changes})
    assert refused.value.field == field
    assert world.workshop.name == "Fennel Yard Soapworks"
    world.workshop.refresh_from_db()
    assert (world.workshop.name, world.workshop.min_days, world.workshop.latest_day) == ("Fennel Yard Soapworks", 28, 56)


def test_preferences_are_changed_together(world: World) -> None:
    changes = {
        "name": " Fennel  Yard ", "unit": "oz", "morning_at": time(5, 45), "min_days": 35, "latest_day": 70,
        "weekly_loss_limit_pct": Decimal("0.5"), "water_left_limit_pct": Decimal(40), "check_limit": "none  darker",
    }  # fmt: skip
    change_preferences(workshop=world.workshop, changes=changes)
    row = Workshop.objects.get(pk=world.workshop.pk)
    kept = {name: getattr(row, name) for name in changes}
    assert kept == {**changes, "name": "Fennel Yard", "check_limit": "none darker"}


def test_a_preference_nobody_has_is_a_programmers_mistake(world: World) -> None:
    with pytest.raises(KeyError, match="last_batch_number"):
        change_preferences(workshop=world.workshop, changes={"last_batch_number": 0})


@pytest.mark.parametrize("step_g", ["0", "-0.1", "0.0004", "100.1"])
def test_a_scale_has_a_step_it_can_have(world: World, step_g: str) -> None:
    with pytest.raises(Invalid) as refused:
        add_scale(workshop=world.workshop, name="Bench scale", step_g=Decimal(step_g))
    assert refused.value.field == "step_g"


def test_two_scales_of_one_workshop_do_not_share_a_name_but_neighbours_may(world: World, stranger: World) -> None:
    with pytest.raises(Invalid) as refused:
        add_scale(workshop=world.workshop, name="Kitchen scale", step_g=Decimal(1))
    assert refused.value.code == "name_taken"
    assert Scale.objects.within(stranger.workshop).get().name == "Kitchen scale"


def test_a_scale_shows_its_last_check_and_how_far_off_it_was(world: World) -> None:
    for days_ago, shown in ((1, "199.6"), (9, "200.3")):
        check_scale(
            actor=world.actor,
            scale=world.scale,
            test_weight_g=Decimal(200),
            shown_g=Decimal(shown),
            at=world.days_ago(days_ago),
        )
    row = Scale.objects.within(world.workshop).in_use().with_last_check().get()
    assert (row.last_check_at, row.last_check_off_g) == (world.days_ago(1), Decimal("-0.4"))


@pytest.mark.parametrize(
    ("weight", "shown", "field"),
    [
        ("0", "1", "test_weight_g"),
        ("0.0004", "0", "test_weight_g"),
        ("200", "-1", "shown_g"),
        ("200", "9999999", "shown_g"),
    ],
)
def test_a_check_of_a_scale_has_weights_it_can_have(world: World, weight: str, shown: str, field: str) -> None:
    with pytest.raises(Invalid) as refused:
        check_scale(
            actor=world.actor, scale=world.scale, test_weight_g=Decimal(weight), shown_g=Decimal(shown), at=world.now
        )  # fmt: skip
    assert refused.value.field == field


def test_a_scale_that_was_retired_is_not_offered(world: World) -> None:
    retire_scale(scale=world.scale, at=world.now)
    assert not Scale.objects.within(world.workshop).in_use().exists()


def test_a_token_opens_the_door_and_is_kept_as_a_digest_only(world: World) -> None:
    token, secret = give_token(actor=world.actor, name="Rack tablet", reach="works", at=world.now)
    assert find_token(secret=secret, at=world.now) == token
    stored = DeviceToken.objects.within(world.workshop).values().get()
    assert secret not in map(str, stored.values())
    assert secret[: len(token.hint)] == token.hint
    assert len(secret) > 3 * len(token.hint)


def test_a_token_that_was_taken_back_or_never_given_opens_nothing(world: World) -> None:
    token, secret = give_token(actor=world.actor, name="Rack tablet", reach="works", at=world.now)
    revoke_token(token=token, at=world.now)
    assert find_token(secret=secret, at=world.now) is None
    assert find_token(secret="ch_" + "x" * 43, at=world.now) is None
    with pytest.raises(Conflict):
        revoke_token(token=token, at=world.now)


def test_a_tokens_last_use_is_noted_now_and_then(world: World) -> None:
    token, secret = give_token(actor=world.actor, name="Rack tablet", reach="works", at=world.now)
    for minutes, noted in ((0, 0), (9, 0), (10, 0), (11, 11)):
        find_token(secret=secret, at=world.now + timedelta(minutes=minutes))
        token.refresh_from_db()
        assert token.last_used_at == world.now + timedelta(minutes=noted)


def test_only_a_person_gives_a_device_a_token(world: World) -> None:
    with pytest.raises(Forbidden):
        give_token(actor=the_house(world.workshop), name="Rack tablet", reach="works", at=world.now)


def test_what_was_sent_before_gets_the_first_answer(world: World) -> None:
    first, fresh = begin_submission(workshop=world.workshop, key="k", content=b"x", at=world.now)
    finish_submission(submission=first, answer={"location": "/"})
    again, fresh_again = begin_submission(workshop=world.workshop, key="k", content=b"x", at=world.now)
    assert (fresh, fresh_again, again.answer) == (True, False, {"location": "/"})
    with pytest.raises(Conflict) as refused:
        begin_submission(workshop=world.workshop, key="k", content=b"y", at=world.now)
    assert refused.value.code == "key_used"


def test_a_key_of_one_workshop_is_none_of_anothers(world: World, stranger: World) -> None:
    for one in (world, stranger):
        _row, fresh = begin_submission(workshop=one.workshop, key="k", content=b"x", at=one.now)
        assert fresh
