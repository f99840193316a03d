"""Every short story of a lot, told in every order and one thing of it taken back, comes to what happened."""

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from functools import partial
from itertools import accumulate

import pytest
from django.db import transaction

from curehouse.common.errors import Conflict
from inventory.balance import differences
from inventory.models import Count, Lot, Movement
from inventory.services import movements
from tests.inventory.plain_book import PlainBook, Position
from tests.world import World

# A use told on time and one told late of more than is there, a receipt told late, counts of one moment and a late one,
# what leaves otherwise (and is refused where more than is there would), and a use of a count's moment.
TOLD = (
    ("use", 70, 2), ("use", 40, 5), ("receive_more", 50, 4), ("count", 20, 3), ("count", 60, 3), ("count", None, 6),
    ("write_off", 45, 3),
)  # fmt: skip
LONGEST = 3
BEGINS_WITH = 50


class Story:
    """A lot, and what happened to it so far."""

    def __init__(self, world: World) -> None:
        self.world, self.start, self.told = world, world.now, 0
        self.lot = world.lot(str(BEGINS_WITH))
        first = (world.days_ago(30), 0)
        self.book = PlainBook(moved={self.lot.movements.get().pk: (0, Decimal(BEGINS_WITH), first)})
        self.confirmed: dict[int, Count] = {}
        self.lines: list[str] = []

    def on_hand(self) -> Decimal:
        return Lot.objects.within(self.world.workshop).get(pk=self.lot.pk).on_hand

    def tell(self, verb: str, amount: int | None, hours: int) -> None:
        at: Position = (self.start - timedelta(hours=hours), self.told)
        how = {"actor": self.world.actor, "lot": self.lot, "moment": at[0], "at": self.world.now}
        if verb in ("use", "write_off", "give_back"):
            self.book.moved[-self.told] = (0, -Decimal(amount), at)
            is_found = self.book.found(-self.told) > 0
            if verb == "use":
                used = movements.use(amount=Decimal(amount), **how)
                row = used.movement
                assert (used.found is not None) == is_found, self.lines
            else:
                row = getattr(movements, verb)(amount=Decimal(amount), reason="rancid", **how)
                assert not is_found, self.lines
            self.book.moved[row.pk] = self.book.moved.pop(-self.told)
        elif verb == "receive_more":
            row = movements.receive_more(amount=Decimal(amount), **how)
            self.book.moved[row.pk] = (0, Decimal(amount), at)
        else:
            counted = self.book.held(0, at) if amount is None else Decimal(amount)
            self.book.counted[-self.told] = (0, counted, at)
            done = movements.count(counted=counted, reason="weighed", **how)
            if done.moved:
                self.book.counted[done.moved.pk] = self.book.counted.pop(-self.told)
            else:
                self.confirmed[-self.told] = done.count

    def take_back(self, key: int) -> None:
        how = {"actor": self.world.actor, "reason": "a slip", "at": self.world.now}
        for kept in (self.book.moved, self.book.counted):
            kept.pop(key, None)
        if key in self.confirmed:
            movements.take_back_count(count=self.confirmed[key], **how)
        else:
            movements.reverse(movement=Movement.objects.within(self.world.workshop).get(pk=key), **how)

    def go_on(self, left: tuple[tuple, ...], length: int) -> int:
        """Tell each that is *left* next, with all that may follow, or take one thing back; return how many stories."""
        stories = 0
        if length < LONGEST:
            for index, one in enumerate(left):
                others = (*left[:index], *left[index + 1 :])
                stories += self.branch(
                    f"{one}", partial(self.tell, *one), lambda others=others: self.go_on(others, length + 1)
                )  # fmt: skip
        for key in (*self.book.moved, *self.book.counted) if length else ():
            stories += self.branch(f"take back {key}", partial(self.take_back, key), lambda: 0)
        return stories

    def branch(self, words: str, tell: Callable[[], None], after: Callable[[], int]) -> int:
        """Go one way, and come back as if nobody had."""
        book, confirmed = self.book.copy(), dict(self.confirmed)
        self.told += 1
        self.world.now = self.start + timedelta(seconds=self.told)
        self.lines.append(words)
        undo = transaction.savepoint()
        stories = 1 + (after() if self.is_told(tell) else 0)
        transaction.savepoint_rollback(undo)
        self.lines.pop()
        self.told -= 1
        self.book, self.confirmed = book, confirmed
        return stories

    def is_told(self, tell: Callable[[], None]) -> bool:
        """Return whether it was taken; refused is only that more than was there leaves otherwise than by a use."""
        try:
            with transaction.atomic():
                tell()
        except Conflict as refused:
            assert refused.code == "not_enough", self.lines
            assert self.book.found(-self.told) > 0, self.lines
            return False
        self.check()
        return True

    def check(self) -> None:
        """Hold the lot and each row of its ledger, as it happened, against going through it all."""
        assert self.on_hand() == self.book.held(0), self.lines
        rows = list(Movement.objects.within(self.world.workshop).filter(lot=self.lot).with_what_they_follow().in_order())
        assert min(accumulate(row.amount for row in rows)) >= 0, self.lines
        for key in self.book.moved:
            found = sum((row.amount for row in rows if row.is_a == "count" and row.found_for == key), Decimal(0))
            assert found == self.book.found(key), self.lines


@pytest.mark.django_db
def test_every_short_story_comes_to_what_going_through_it_all_comes_to(world: World) -> None:
    assert Story(world).go_on(TOLD, 0) > 1000
    assert differences() == []
