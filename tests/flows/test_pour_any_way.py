"""Whatever is told at the table, in whatever order and however often: each gram leaves its lot once."""

import random
import uuid
from collections import Counter
from contextlib import suppress
from decimal import Decimal

import pytest

from curehouse.common.errors import DomainError
from curehouse.core.chemistry.at_table import Answer
from curehouse.flows.pour import Stopped, finish, stop
from curehouse.making.models import Batch, BatchHold, BatchUse, Pour, PourStep
from curehouse.making.pouring.table import Kind
from inventory.models import Lot, Movement
from tests.pouring import Bench, lot_with
from tests.world import World

pytestmark = pytest.mark.django_db

SEEDS = 8
_NUMBERS = (3, 20, 50)


def say_anything(bench: Bench, pour: Pour, dice: random.Random, lots: dict[str, list[Lot]]) -> None:
    """Say something that may be right, off, corrected, sent twice, or out of turn."""
    table = bench.table(pour)
    key = dice.choice([table.next or "place", dice.choice(table.order)])
    ids = [uuid.uuid4()] * dice.choice([1, 1, 2])
    weighed = [row for row in table.steps if row.kind == Kind.WEIGHED]
    corrects = dice.choice(weighed) if weighed and dice.random() < 0.2 else None
    if corrects is not None:
        key = corrects.slot
    for client_id in ids:
        more = {"client_id": client_id, "corrects": None if corrects is None else corrects.pk}
        if corrects is not None and dice.random() < 0.3:
            bench.say(pour, "unsaid", words="no", **more)
        elif key in table.lines:
            meant = table.lines[key].target_g or Decimal(10)
            grams = max(Decimal("0.1"), meant * Decimal(str(dice.choice(["1", "1", "0.5", "0.97", "1.04"]))))
            how = dice.choice([{}, {"stands": True}, {"is_part": True}])
            bench.weigh(pour, key, grams, lot=dice.choice(lots.get(key, [None])), **how, **more)
        elif key in (Kind.LYE_TEMP, Kind.FATS_TEMP):
            bench.say(pour, key, celsius=Decimal(dice.choice([38, 90])), client_id=client_id)
        else:
            bench.say(pour, key, client_id=client_id)


def balances(lots: dict[str, list[Lot]]) -> dict[int, Decimal]:
    return {lot.pk: Lot.unscoped.get(pk=lot.pk).on_hand for own in lots.values() for lot in own}


@pytest.mark.parametrize("seed", range(SEEDS))
def test_each_movement_comes_once(world: World, seed: int) -> None:
    dice, bench = random.Random(seed), Bench(world)
    lots = {key: [lot] for key, lot in bench.lots.items()}
    lots["0"].append(lot_with(world, bench.olive, ("SAP", "188")))
    lots["naoh"].append(lot_with(world, bench.lye, ("Purity", "98")))
    before, pour = balances(lots), bench.begin()
    refused: Counter[str] = Counter()
    for _number in range(dice.choice(_NUMBERS)):
        try:
            say_anything(bench, pour, dice, lots)
        except DomainError as error:
            refused[error.code] += 1
    if seed % 2:
        # Half of them are seen through as far as they may be; one that is to be stopped or mended is not.
        with suppress(DomainError):
            bench.go_on(pour)
    assert balances(lots) == before, "something moved before the end"
    table = bench.table(pour)
    taken: Counter[int] = Counter()
    for row in PourStep.objects.within(world.workshop).filter(pour=pour).in_force():
        if row.lot_id is not None:
            taken[row.lot_id] += row.amount_g
    ready = table.next is None and not table.must_stop and not table.wants_fat
    try:
        batch = finish(actor=world.actor, pour=pour, at=world.now)
        assert ready
        assert table.found.answer in (Answer.SAFE, Answer.AS_READ)
    except DomainError:
        assert not ready
        try:
            batch = stop(actor=world.actor, pour=pour, stopped=Stopped("enough", into_batch=True), at=world.now).batch
            assert BatchHold.objects.within(world.workshop).filter(batch=batch, use=None).standing().exists()
        except DomainError as error:
            assert error.code in ("not_weighed", "lye_over_fats", "mass", "no_liquid"), error
            batch, taken = None, Counter()
    after = balances(lots)
    assert {key: before[key] - after[key] for key in before} == {key: taken[key] for key in before}
    if batch is not None:
        for again in (finish, stop):
            more = {} if again is finish else {"stopped": Stopped("again")}
            with pytest.raises(DomainError):
                again(actor=world.actor, pour=pour, at=world.now, **more)
        assert balances(lots) == after
        assert Batch.objects.within(world.workshop).count() == 1
    uses = BatchUse.objects.within(world.workshop).count()
    assert (
        uses == len([key for key in taken if taken[key]]) == Movement.objects.within(world.workshop).filter(kind="use").count()
    )
