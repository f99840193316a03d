"""What comes and goes: nothing is overwritten, nothing goes below zero, and what happened is never refused."""

from datetime import datetime, timedelta
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction

from curehouse.common.errors import Conflict, DomainError, Invalid, NotHere
from inventory.balance import differences
from inventory.models import MOST_ON_HAND, Count, Lot, Movement
from inventory.services import movements
from inventory.services.movements import Used, count, give_back, receive_more, reverse, write_off
from inventory.services.posting import post
from tests.world import World

pytestmark = pytest.mark.django_db


def on_hand(lot: Lot) -> Decimal:
    return Lot.objects.within(lot.workshop).get(pk=lot.pk).on_hand


def use(world: World, lot: Lot, amount: str, *, when: datetime | None = None, reason: str = "") -> Used:
    return movements.use(
        actor=world.actor, lot=lot, amount=Decimal(amount), moment=when or world.now, at=world.now, reason=reason
    )  # fmt: skip


def counted(world: World, lot: Lot, amount: str, *, when: datetime | None = None, reason: str = "weighed again"):
    return count(
        actor=world.actor, lot=lot, counted=Decimal(amount), moment=when or world.now, at=world.now, reason=reason
    )  # fmt: skip


def take_back(world: World, movement: Movement, reason: str = "a slip of the finger") -> Movement:
    return reverse(actor=world.actor, movement=movement, reason=reason, at=world.now)


def story(lot: Lot) -> list[str]:
    return [str(one) for one in Movement.objects.within(lot.workshop).filter(lot=lot).order_by("pk")]


def test_everything_that_can_happen_to_a_lot_is_a_row(world: World) -> None:
    lot = world.lot("1000")
    receive_more(actor=world.actor, lot=lot, amount=Decimal(500), moment=world.now, at=world.now)
    use(world, lot, "250.5")
    for verb in (write_off, give_back):
        verb(actor=world.actor, lot=lot, amount=Decimal(100), reason="rancid", moment=world.now, at=world.now)
    counted(world, lot, "1040")
    assert story(lot) == [
        "+1000 received", "+500 received", "-250.5 used", "-100 written off", "-100 returned to the supplier",
        "-9.5 corrected by a count",
    ]  # fmt: skip
    assert on_hand(lot) == 1040
    assert differences() == []


def test_a_use_of_more_than_is_booked_counts_the_rest_in(world: World) -> None:
    lot = world.lot("300")
    used = use(world, lot, "500")
    in_order = Movement.objects.within(world.workshop).filter(lot=lot).in_order()
    assert [str(one) for one in in_order] == ["+300 received", "+200 corrected by a count", "-500 used"]
    assert on_hand(lot) == 0
    found = used.found
    assert found is not None
    assert (found.expected, found.counted, found.reason, found.for_use) == (300, 500, "found at the pour", used.movement)
    assert found.movement.amount == 200
    assert differences() == []


def test_the_last_gram_can_be_used_though_tenths_are_no_floats(world: World) -> None:
    lot = world.lot("0.3")
    for _ in range(3):
        assert use(world, lot, "0.1").found is None
    assert (on_hand(lot), str(on_hand(lot))) == (0, "0.000")


@pytest.mark.parametrize(
    ("changes", "irregular", "said"),
    [
        ({"standing": "quarantine"}, "quarantine", "is in quarantine: say why"),
        ({"standing": "rejected"}, "rejected", "is rejected: say why"),
        ({"best_before": "yesterday"}, "expired", "is expired: say why"),
        ({"standing": "rejected", "best_before": "yesterday"}, "rejected", "is rejected"),
    ],
)
def test_a_lot_not_in_order_is_used_all_the_same_with_a_reason(world: World, changes: dict, irregular: str, said: str) -> None:
    if "best_before" in changes:
        changes = {**changes, "best_before": world.now.date() - timedelta(days=1)}
    lot = world.lot(**changes)
    with pytest.raises(Invalid, match=said) as refused:
        use(world, lot, "100")
    assert refused.value.field == "reason"
    used = use(world, lot, "100", reason="nothing else was here")
    assert (used.irregular, used.movement.reason) == (irregular, "nothing else was here")
    assert on_hand(lot) == 900


def test_whether_a_lot_had_expired_is_judged_on_the_day_it_was_used(world: World) -> None:
    lot = world.lot(best_before=world.now.date() - timedelta(days=2))
    assert use(world, lot, "10", when=world.days_ago(2)).irregular == ""
    with pytest.raises(Invalid, match="is expired"):
        use(world, lot, "10", when=world.days_ago(1))


def test_more_cannot_be_written_off_or_returned_than_is_there(world: World) -> None:
    lot = world.lot("300")
    for verb in (write_off, give_back):
        with pytest.raises(Conflict, match="holds 300 g by the book, so 300.5 g cannot leave it") as refused:
            verb(actor=world.actor, lot=lot, amount=Decimal("300.5"), reason="spilt", moment=world.now, at=world.now)
        assert (refused.value.code, refused.value.field) == ("not_enough", "amount")
    assert story(lot) == ["+300 received"]


def test_amounts_are_said_in_the_makers_unit_and_pieces_as_pieces(db: None) -> None:
    world = World(unit="oz")
    boxes = world.lot("1", material=world.material("Boxes", kind="packaging"))
    ounces = (world.lot("283.495"), "567", "holds 10 oz by the book, so 20 oz")
    for lot, amount, said in (ounces, (boxes, "2", "holds 1 piece by the book")):
        with pytest.raises(Conflict, match=said):
            write_off(
                actor=world.actor, lot=lot, amount=Decimal(amount), reason="wet", moment=world.now, at=world.now
            )  # fmt: skip


def test_no_lot_holds_more_than_any_lot_can(world: World) -> None:
    lot = world.lot("999999")
    for _ in range(9):
        receive_more(actor=world.actor, lot=lot, amount=Decimal(999999), moment=world.now, at=world.now)
    with pytest.raises(Conflict, match="no lot holds more than 9999999"):
        receive_more(actor=world.actor, lot=lot, amount=Decimal(999999), moment=world.now, at=world.now)
    assert on_hand(lot) <= MOST_ON_HAND
    assert differences() == []


VERBS = {
    "receive_more": lambda **asked: receive_more(**asked),
    "use": lambda **asked: movements.use(**asked),
    "write_off": lambda **asked: write_off(reason="spilt", **asked),
    "give_back": lambda **asked: give_back(reason="rancid", **asked),
    "count": lambda amount, **asked: count(counted=amount, reason="weighed", **asked),
}


@pytest.mark.parametrize("verb", VERBS.values(), ids=VERBS)
@pytest.mark.parametrize(
    ("amount", "days"), [("-1", 0), ("0.00001", 0), ("NaN", 0), ("1e9", 0), ("5", -1), ("5", 31)]
)  # fmt: skip
def test_what_cannot_be_right_is_answered_in_words_and_leaves_the_ledger_alone(
    world: World, verb, amount: str, days: int
) -> None:
    lot = world.lot()
    with pytest.raises(Invalid) as refused:
        verb(actor=world.actor, lot=lot, amount=Decimal(amount), moment=world.days_ago(days), at=world.now)
    assert refused.value.field == "moment" if days else refused.value.field in {"amount", "counted"}
    assert story(lot) == ["+1000 received"]


@pytest.mark.parametrize("verb", [VERBS[name] for name in VERBS if name != "count"])
def test_nothing_is_no_movement(world: World, verb) -> None:
    with pytest.raises(Invalid, match="more than 0"):
        verb(actor=world.actor, lot=world.lot(), amount=Decimal(0), moment=world.now, at=world.now)


@pytest.mark.parametrize("verb", VERBS.values(), ids=VERBS)
def test_half_a_box_is_no_amount(world: World, verb) -> None:
    lot = world.lot("10", material=world.material("Boxes", kind="packaging"))
    with pytest.raises(Invalid, match="whole number"):
        verb(actor=world.actor, lot=lot, amount=Decimal("2.5"), moment=world.now, at=world.now)


@pytest.mark.parametrize("verb", VERBS.values(), ids=VERBS)
def test_a_strangers_lot_is_not_there(world: World, stranger: World, verb) -> None:
    lot = world.lot()
    with pytest.raises(NotHere):
        verb(actor=stranger.actor, lot=lot, amount=Decimal(5), moment=world.now, at=world.now)
    with pytest.raises(NotHere):
        take_back(stranger, lot.movements.get())


@pytest.mark.parametrize("verb", [write_off, give_back])
def test_what_leaves_unused_wants_a_reason(world: World, verb) -> None:
    with pytest.raises(Invalid) as refused:
        verb(actor=world.actor, lot=world.lot(), amount=Decimal(5), reason=" ", moment=world.now, at=world.now)
    assert (refused.value.code, refused.value.field) == ("reason", "reason")


def test_a_count_as_booked_corrects_nothing_and_is_kept(world: World) -> None:
    lot = world.lot("300")
    outcome = counted(world, lot, "300", reason="")
    assert (outcome.moved, outcome.count.movement, outcome.count.expected) == (None, None, 300)
    assert story(lot) == ["+300 received"]


def test_a_count_that_differs_says_why(world: World) -> None:
    lot = world.lot("300")
    with pytest.raises(Invalid, match="300 g are booked and 280.5 g counted: say why"):
        counted(world, lot, "280.5", reason="")
    assert counted(world, lot, "280.5", reason="clings to the can").moved.amount == Decimal("-19.5")
    assert counted(world, lot, "0").moved.amount == Decimal("-280.5")
    assert counted(world, lot, "7").moved.amount == 7
    assert differences() == []


def test_a_count_entered_late_is_held_against_what_was_booked_then(world: World) -> None:
    lot = world.lot("1000")
    use(world, lot, "100", when=world.days_ago(3))
    use(world, lot, "200", when=world.days_ago(1))
    outcome = counted(world, lot, "880", when=world.days_ago(2))
    assert (outcome.count.expected, outcome.moved.amount, on_hand(lot)) == (900, -20, 680)


def test_what_a_late_count_leaves_too_little_for_was_found_as_it_was_used(world: World) -> None:
    lot = world.lot("1000")
    used = use(world, lot, "900", when=world.days_ago(1)).movement
    counted(world, lot, "850", when=world.days_ago(2))
    (found,) = Count.objects.within(world.workshop).filter(for_use=used)
    assert (found.expected, found.counted, on_hand(lot), differences()) == (850, 900, 0, [])


@pytest.mark.parametrize("verb", [write_off, give_back])
def test_more_than_was_there_then_leaves_by_a_use_only(world: World, verb) -> None:
    lot = world.lot("100")
    how = {"actor": world.actor, "lot": lot, "at": world.now}
    receive_more(amount=Decimal(500), moment=world.days_ago(1), **how)
    with pytest.raises(Conflict, match="lot 1 held 100 g by the book then, so 250 g cannot leave it") as refused:
        verb(amount=Decimal(250), reason="rancid", moment=world.days_ago(2), **how)
    assert (refused.value.code, on_hand(lot)) == ("not_enough", 600)
    verb(amount=Decimal(250), reason="rancid", moment=world.days_ago(0.5), **how)
    # What leaves late leaves the rest of it to be found.
    verb(amount=Decimal(90), reason="rancid", moment=world.days_ago(2), **how)
    verb(amount=Decimal(260), reason="rancid", moment=world.days_ago(0.7), **how)
    assert (on_hand(lot), differences()) == (0, [])


def test_a_movement_is_taken_back_by_one_that_points_at_it(world: World) -> None:
    lot = world.lot("1000")
    used = use(world, lot, "400", when=world.days_ago(5)).movement
    back = take_back(world, used)
    assert (back.corrects, back.amount, back.kind, back.moment) == (used, 400, "reversal", used.moment)
    assert on_hand(lot) == 1000
    in_force = Movement.objects.within(world.workshop).filter(lot=lot).in_force()
    assert [one.kind for one in in_force] == ["receive"]


def test_nothing_is_taken_back_twice_and_a_reversal_never(world: World) -> None:
    lot = world.lot("1000")
    used = use(world, lot, "400").movement
    with pytest.raises(Invalid, match="Say why"):
        take_back(world, used, reason="")
    back = take_back(world, used)
    for movement, code in ((used, "reversed"), (back, "is_reversal")):
        with pytest.raises(Conflict) as refused:
            take_back(world, movement)
        assert refused.value.code == code
    assert on_hand(lot) == 1000


def test_what_was_used_of_a_receipt_that_is_taken_back_was_found(world: World) -> None:
    lot = world.lot("1000")
    used = use(world, lot, "400").movement
    take_back(world, lot.movements.get(kind="receive"))
    assert (on_hand(lot), Count.objects.within(world.workshop).get(for_use=used).movement.amount) == (0, 400)
    take_back(world, used)
    assert (on_hand(lot), differences()) == (0, [])


def test_with_a_use_goes_what_was_found_for_it(world: World) -> None:
    lot = world.lot("300")
    take_back(world, use(world, lot, "500").movement)
    assert (on_hand(lot), differences()) == (300, [])
    assert len(story(lot)) == 5


def test_what_was_found_goes_with_its_use_alone(world: World) -> None:
    lot = world.lot("300")
    used = use(world, lot, "500")
    with pytest.raises(Conflict, match="take back that use") as refused:
        take_back(world, used.found.movement)
    assert (refused.value.code, on_hand(lot)) == ("follows_use", 0)


def test_a_post_past_the_lock_is_still_held_by_the_write_itself(world: World) -> None:
    lot = world.lot("300")
    stale = Lot.objects.within(world.workshop).named().get(pk=lot.pk)
    use(world, lot, "250")
    with pytest.raises(DomainError) as refused:
        post(
            actor=world.actor, lot=stale, kind="use", amount=Decimal(-100), moment=world.now, at=world.now, source="page"
        )  # fmt: skip
    assert refused.value.code == "not_enough"
    assert on_hand(lot) == 50


def row(world: World, **changes: object) -> Movement:
    lot = world.lot()
    values = {"kind": "use", "amount": Decimal(-5), "moment": world.now, "source": "page", "written_at": world.now, **changes}
    return Movement(workshop=world.workshop, lot=lot, **values)


@pytest.mark.parametrize(
    ("changes", "constraint"),
    [
        ({"amount": 5}, "movement_sign_fits_kind"),
        ({"amount": 0}, "movement_sign_fits_kind"),
        ({"kind": "receive"}, "movement_sign_fits_kind"),
        ({"kind": "count", "amount": 0, "reason": "x"}, "movement_sign_fits_kind"),
        ({"kind": "sale", "reason": "x"}, "movement_sign_fits_kind"),
        ({"kind": "reversal", "reason": "x"}, "movement_reversal_corrects"),
        ({"kind": "write_off"}, "movement_reason"),
    ],
)
def test_the_database_itself_refuses_a_movement_that_cannot_be(world: World, changes: dict, constraint: str) -> None:
    with pytest.raises(IntegrityError, match=constraint), transaction.atomic():
        row(world, **changes).save()


def test_the_database_itself_refuses_a_plain_movement_that_corrects(world: World) -> None:
    used = use(world, world.lot(), "5").movement
    with pytest.raises(IntegrityError, match="movement_reversal_corrects"), transaction.atomic():
        row(world, corrects=used).save()


@pytest.mark.parametrize("held", [-1, MOST_ON_HAND + 1])
def test_the_database_itself_refuses_a_balance_below_nothing_or_beyond_measure(world: World, held: int) -> None:
    lot = world.lot()
    with pytest.raises(IntegrityError, match="lot_on_hand"), transaction.atomic():
        Lot.unscoped.filter(pk=lot.pk).update(on_hand=held)


def test_a_count_finds_as_much_as_a_lot_may_hold(world: World) -> None:
    lot = world.lot("900000")
    receive_more(actor=world.actor, lot=lot, amount=Decimal(900_000), moment=world.days_ago(2), at=world.now)
    found = count(actor=world.actor, lot=lot, counted=Decimal("1799999"), reason="spilt", moment=world.now, at=world.now)
    assert (found.count.counted, differences()) == (Decimal(1_799_999), [])
    with pytest.raises(Invalid, match="The count is over 9999999: check the figure"):
        count(actor=world.actor, lot=lot, counted=Decimal(10_000_000), reason="a slip", moment=world.now, at=world.now)
