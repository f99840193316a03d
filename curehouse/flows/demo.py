"""An invented workshop with a believable half-year, entered as a maker would have entered it.

Everything goes through the flows with the moment it would have happened at, so the demo has the
history, the notices and the odd slip of the finger that a real house has. Nobody subscribes to
anything here: a demo writes no mail.
"""

import random
import uuid
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal

from django.db import transaction

from curehouse.curing.models import Position, Reading, SampleBar
from curehouse.curing.services.cures import reckon_due_days
from curehouse.curing.services.places import turn
from curehouse.curing.services.racks import add_rack
from curehouse.curing.services.readings import ReadingEntry
from curehouse.flows.assess import assess_batch
from curehouse.flows.check import check
from curehouse.flows.demo_air import log_rooms
from curehouse.flows.demo_formulas import change_one, write_formulas
from curehouse.flows.demo_goods import fats_g_of
from curehouse.flows.demo_runs import plan_runs
from curehouse.flows.demo_stock import fill_storeroom, look_after, order_goods, take_boxes, take_for_pour
from curehouse.flows.demo_story import FORMULAS, RACKS, Story, batches_of
from curehouse.flows.enter_batch import RackEntry, enter_batch
from curehouse.flows.foretell import learn_and_foretell
from curehouse.flows.take_out import take_out
from curehouse.flows.weigh import correct, keep
from curehouse.flows.weigh_many import WeighingRow, weigh_many
from curehouse.making.models import Batch, FormulaVersion
from curehouse.making.services import BatchEntry, LiquidEntry, TakeOutEntry
from curehouse.workshops.actors import Actor
from curehouse.workshops.models import Scale
from curehouse.workshops.services import add_scale, change_preferences, check_scale, make_person, open_workshop
from inventory.models import Material

EMAIL = "ottilie@fennelyard.example"
_WORDS = ("linden", "copper", "meadow", "harbour", "candle", "walnut", "ribbon", "thistle", "marble", "sparrow")


@dataclass(frozen=True, slots=True)
class DemoSignIn:
    """How to sign in to the demo; the password is made anew each time."""

    email: str
    password: str


@dataclass(frozen=True, slots=True)
class _House:
    actor: Actor
    scales: tuple[Scale, Scale]
    dice: random.Random
    today: datetime
    materials: dict[str, Material]
    versions: dict[str, FormulaVersion]


@transaction.atomic
def open_demo(*, at: datetime) -> DemoSignIn:
    """Open the demo in an empty house, as it stands at *at*."""
    chooser = random.SystemRandom()
    password = "-".join(chooser.sample(_WORDS, 3)) + f"-{chooser.randrange(100, 1000)}"
    opened = at - timedelta(days=200)
    owner = make_person(email=EMAIL, name="Ottilie Brandt", password=password, at=opened)
    workshop = open_workshop(
        owner=owner,
        name="Fennel Yard Soapworks",
        unit="g",
        time_zone="Europe/Berlin",
        currency="EUR",
        round_days=[at.weekday()],
        at=opened,
    )
    change_preferences(
        workshop=workshop,
        changes={
            "check_method": "pH strip on a wetted bar",
            "check_limit": "pH 10.0 or less, read after a minute in daylight",
        },
    )
    actor = Actor(workshop=workshop, user=owner)
    fine = add_scale(workshop=workshop, name="Bench scale", step_g=Decimal("0.1"))
    coarse = add_scale(workshop=workshop, name="Kitchen scale", step_g=Decimal("1"))
    check_scale(actor=actor, scale=fine, test_weight_g=Decimal(100), shown_g=Decimal("100.0"), at=at - timedelta(days=12))
    for name, levels, places, capacity in RACKS:
        add_rack(workshop=workshop, name=name, levels=levels, places=places, capacity_bars=capacity)
    stories = batches_of(at)
    materials = fill_storeroom(actor=actor, stories=stories, at=at)
    house = _House(
        actor=actor,
        scales=(fine, coarse),
        dice=random.Random(20),  # noqa: S311  (weights, not secrets)
        today=at,
        materials=materials,
        versions=write_formulas(actor=actor, materials=materials, scales=(fine, coarse), at=at),
    )
    for story in stories:
        _live(house, story)
    change_one(
        actor=actor, materials=materials, scales=house.scales, version=house.versions["Goat & oat"], at=at
    )  # fmt: skip
    plan_runs(actor=actor, versions=house.versions, at=at)
    look_after(actor=actor, materials=house.materials, at=at)
    order_goods(actor=actor, materials=house.materials, at=at)
    log_rooms(actor=actor, at=at)
    reckon_due_days(workshop=workshop)
    learn_and_foretell(workshop_id=workshop.pk, at=at)
    return DemoSignIn(email=EMAIL, password=password)


def _live(house: _House, story: Story) -> None:
    """Let one batch go through its life up to today."""
    batch = _pour(house, story)
    take_for_pour(actor=house.actor, materials=house.materials, batch=batch, story=story)
    if batch.cut_at is None:
        return
    letters = SampleBar.objects.within(house.actor.workshop).filter(batch=batch).select_related("batch__formula")
    bars = list(letters.order_by("letter"))
    last = max(story.weighing_days, default=0)
    for day in range(last + 1):
        moment = batch.cut_at + timedelta(days=day, minutes=20)
        if moment > house.today:
            break
        if day in story.weighing_days:
            _weigh_session(house, story, bars, day=day, moment=moment)
            _assess(house, batch, at=moment + timedelta(minutes=10))
        if day == 14:
            _turn(house, batch, at=moment)
        _check(house, story, batch, day=day)
    _leave(house, story, batch)


def _pour(house: _House, story: Story) -> Batch:
    formula = FORMULAS[story.formula]
    fats_g = fats_g_of(story)
    liquids = [
        LiquidEntry(kind, (fats_g * share).quantize(Decimal("0.1")), place=place) for kind, share, place in formula.liquids
    ]
    cut_at = None if story.cut_after is None else story.poured_at + story.cut_after
    entry = BatchEntry(
        formula_name=story.formula,
        poured_at=story.poured_at,
        cut_at=cut_at,
        bars=story.bars,
        fats_g=fats_g,
        lye_g=(fats_g * formula.lye_share).quantize(Decimal("0.1")),
        liquids=liquids,
        note=story.note,
        version=house.versions.get(story.formula),
    )
    rack = RackEntry(sample_bars=story.sample_bars, position=_free_position(house, story), when_full="elsewhere")
    return enter_batch(actor=house.actor, entry=entry, rack=rack, at=cut_at or story.poured_at)


def _free_position(house: _House, story: Story) -> Position | None:
    if not story.placed:
        return None
    walk = Position.objects.within(house.actor.workshop).in_walking_order()
    roomy = [position for position in walk if position.bars_free >= story.bars]
    return roomy[0] if roomy else None


def _weigh_session(house: _House, story: Story, bars: list[SampleBar], *, day: int, moment: datetime) -> None:
    scale = house.scales[story.scale]
    rows, true_weights = [], []
    for index, bar in enumerate(bars):
        if (day, bar.letter) in story.missed:
            continue
        weight_g = _on_scale(story.weight_g(index, day) + house.dice.gauss(0, 0.05), scale)
        slip = story.slips.get((day, bar.letter))
        typed = weight_g if slip is None else _on_scale(slip(float(weight_g)), scale)
        entry = _entry(typed, moment + timedelta(seconds=20 * index), scale, firmness=story.firmness.get(day, ""))
        rows.append(WeighingRow(bar.pk, scale.pk, entry))
        true_weights.append(weight_g)
    for (reading, _new), weight_g in zip(weigh_many(actor=house.actor, rows=rows, at=moment), true_weights, strict=True):
        if reading.doubt and (day, reading.bar.letter) not in story.unanswered:
            _answer(house, reading, weight_g, scale)


def _answer(house: _House, reading: Reading, weight_g: Decimal, scale: Scale) -> None:
    """Answer what was asked: a true weight is kept, a slip corrected."""
    if reading.weight_g == weight_g:
        keep(actor=house.actor, reading=reading, at=reading.moment)
    else:
        mended = _entry(weight_g, reading.moment, scale)
        correct(actor=house.actor, reading=reading, entry=mended, at=reading.moment)


def _on_scale(weight_g: float, scale: Scale) -> Decimal:
    return Decimal(str(round(weight_g / float(scale.step_g)))) * scale.step_g


def _entry(weight_g: Decimal, moment: datetime, scale: Scale, *, firmness: str = "") -> ReadingEntry:
    return ReadingEntry(
        client_id=uuid.uuid4(),
        moment=moment,
        weight_g=weight_g,
        scale=scale,
        source="demo",
        firmness=firmness,
        typed=format(weight_g.normalize(), "f"),
    )


def _assess(house: _House, batch: Batch, *, at: datetime) -> None:
    assess_batch(workshop_id=house.actor.workshop.pk, batch_id=batch.pk, at=min(at, house.today))


def _turn(house: _House, batch: Batch, *, at: datetime) -> None:
    for row in batch.occupancies.filter(bars__gt=0).select_related("position"):
        turn(actor=house.actor, batch=batch, position=row.position, moved_at=at, at=at)


def _check(house: _House, story: Story, batch: Batch, *, day: int) -> None:
    for check_day, value, passed in story.checks:
        moment = batch.cut_at + timedelta(days=check_day, hours=1)
        if check_day != day or moment > house.today:
            continue
        check(
            actor=house.actor,
            batch=batch,
            method=house.actor.workshop.check_method,
            value=value,
            passed=passed,
            note="",
            checked_at=moment,
            at=moment,
        )


def _leave(house: _House, story: Story, batch: Batch) -> None:
    for day, bars, purpose, reason in story.leaves:
        moment = batch.cut_at + timedelta(days=day, hours=2)
        if moment > house.today:
            continue
        fresh = Batch.objects.within(house.actor.workshop).get(pk=batch.pk)
        entry = TakeOutEntry(bars=min(bars, fresh.bars_left), purpose=purpose, taken_at=moment, forced_reason=reason)
        take_out(actor=house.actor, batch=fresh, entry=entry, at=moment)
    take_boxes(actor=house.actor, materials=house.materials, batch=batch, story=story, at=house.today)
