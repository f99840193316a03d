"""The house drawn from its racks: what stands where, how wet it is, what has no place."""

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

from django.urls import reverse

from curehouse.curing.models import Cure, ExpectedCure, Occupancy, Position, Rack, SampleBar
from curehouse.curing.models.verdicts import State
from curehouse.curing.obstacles import obstacles_of
from curehouse.curing.outlook import window_word
from curehouse.curing.shelf import days_kept
from curehouse.web.drawing.racks import RackDrawing, RackLevel, RackPosition, StandingBatch
from curehouse.web.marks import MARKS, Mark, mark_beside, mark_of
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.forecast import short_window
from curehouse.web.reading.hands import in_hand_order, may_stay_soft, weigh_words
from curehouse.web.reading.racks_ahead import Ahead
from curehouse.web.reading.standing import Standing
from curehouse.web.reading.words import count, without_place
from curehouse.workshops.models import Workshop

# What stands at a place that is kept on a day ahead.
KEPT_NOTE = "kept for a run"


@dataclass(frozen=True, slots=True)
class LooseBatch:
    """A batch some of whose bars stand at no position."""

    name: str
    url: str
    place_url: str
    bars: str
    mark: Mark
    beside: Mark | None


@dataclass(frozen=True, slots=True)
class Hand:
    """A batch in the list of what needs a hand first."""

    name: str
    url: str
    place: str
    mark: Mark
    beside: Mark | None
    said: str


@dataclass(frozen=True, slots=True)
class Racks:
    """The racks as they stand now, or as they likely do on a day ``ahead``."""

    ahead: Ahead
    drawings: tuple[RackDrawing, ...]
    summary: str
    hands: tuple[Hand, ...]
    loose: tuple[LooseBatch, ...]
    legend: tuple[Mark, ...]


def read_racks(workshop: Workshop, calendar: Calendar, days: int = 0) -> Racks:
    """Read every rack and the batches in cure, as they likely are so many days ahead (five queries; two more ahead)."""
    ahead = Ahead(days, calendar)
    cures = {cure.batch_id: cure for cure in Cure.objects.within(workshop).going_on().with_forecast().with_obstacles()}
    standing = Standing(Occupancy.objects.within(workshop).standing())
    bars = Counter(SampleBar.objects.within(workshop).on_the_rack().filter(batch__in=cures).values_list("batch", flat=True))
    positions: dict[int, list[Position]] = defaultdict(list)
    for position in Position.objects.within(workshop).in_walking_order():
        positions[position.rack_id].append(position)
    stands = _stands(cures, standing, bars, ahead)
    kept = _kept(workshop, ahead)
    free_by = _free_by(cures, standing, ahead)
    free_by |= {key: f"{free_by[key]}, then kept" if free_by.get(key) else KEPT_NOTE for key in kept}
    racks = Rack.objects.within(workshop).order_by("order", "name")
    shown = {cure.shown_as for cure in cures.values()}
    shown |= {mark.state for cure in cures.values() if (mark := beside(cure))}
    return Racks(
        ahead=ahead,
        drawings=tuple(_drawing(rack, positions[rack.pk], stands, free_by) for rack in racks),
        summary=_summary(cures.values(), standing, positions, ahead, kept=sum(kept.values())),
        hands=tuple(_hands(in_hand_order(cures.values(), calendar), standing, calendar)),
        loose=tuple(_loose(cures.values(), standing)),
        legend=tuple(mark for state, mark in MARKS.items() if state in shown),
    )


def _kept(workshop: Workshop, ahead: Ahead) -> Counter[int]:
    """Return for how many bars of runs each place is kept on a day ahead; nothing of today."""
    found: Counter[int] = Counter()
    if not ahead.days:
        return found
    for cure in ExpectedCure.objects.within(workshop).standing():
        first, last = days_kept(cure, ahead.calendar.today)
        if first <= ahead.on <= last:
            found.update({one.position_id: one.bars for one in cure.places.all()})
    return found


def _summary(
    cures: Collection[Cure],
    standing: Standing,
    positions: Mapping[int, Sequence[Position]],
    ahead: Ahead,
    *,
    kept: int,
) -> str:
    """Return what stands on the racks, or what of it is free on a day ahead; bars without a place are said apart."""
    if not cures and not kept:
        return "No batch is curing."
    stand = [(cure, bars) for cure in cures if (bars := cure.batch.bars_left - standing.loose(cure.batch)) > 0]
    said = f"{count(len(stand), 'batch', 'batches')}, {count(sum(bars for _, bars in stand), 'bar')}"
    if ahead.days:
        said = ahead.summary(stand, free=sum(place.bars_free for places in positions.values() for place in places))
        said += f"; places for {count(kept, 'bar')} are kept for runs" if kept else ""
    else:
        said = f"{said}; the water line in a bar is what is still in it"
    loose = sum(max(standing.loose(cure.batch), 0) for cure in cures)
    return f"{said}; {count(loose, 'bar')} more {'has' if loose == 1 else 'have'} no place." if loose else f"{said}."


def beside(cure: Cure) -> Mark | None:
    """Return the mark beside that of *cure*, which must be fetched with obstacles."""
    return mark_beside(cure.shown_as, [one.code for one in obstacles_of(cure)])


def water_left(cure: Cure) -> float | None:
    """Return the share of its water still in a batch's bars, 0 to 1, or None where it is not known."""
    share = cure.assessment.water_left_pct if cure.assessment else None
    return None if share is None else min(max(share / 100.0, 0.0), 1.0)


def _hands(cures: Iterable[Cure], standing: Standing, calendar: Calendar) -> Iterable[Hand]:
    for cure in cures:
        window = short_window(cure, calendar)
        days = f"{window_word(cure)} {window.note}" if window else ""
        soft = "may stay too soft" if may_stay_soft(cure, calendar) else ""
        yield Hand(
            name=str(cure.batch),
            url=reverse("web:batch", args=[cure.batch_id]),
            place=standing.place_words(cure.batch_id),
            mark=mark_of(cure.shown_as),
            beside=beside(cure),
            said=" · ".join(filter(None, [soft, weigh_words(cure, calendar.today), days])),
        )


def _free_by(cures: Mapping[int, Cure], standing: Standing, ahead: Ahead) -> dict[int, str]:
    """Return how likely each place that is taken is free on a day ahead; nothing of today."""
    if not ahead.days:
        return {}
    at: dict[int, list[Cure]] = defaultdict(list)
    for batch_id, cure in cures.items():
        for row in standing.of_batch(batch_id):
            at[row.position_id].append(cure)
    return {key: ahead.place_note(found) for key, found in at.items()}


def _stands(cures: dict[int, Cure], standing: Standing, bars: Counter[int], ahead: Ahead) -> dict[int, list[StandingBatch]]:
    """Return what stands at each position; a batch's sample bars are drawn at its first place."""
    found: dict[int, list[StandingBatch]] = defaultdict(list)
    for batch_id, cure in cures.items():
        note, said = _noted(cure, ahead)
        left = ahead.water_left(cure) if ahead.days else None
        for number, row in enumerate(standing.of_batch(batch_id)):
            found[row.position_id].append(
                StandingBatch(
                    name=str(cure.batch),
                    state=cure.shown_as,
                    bars=row.bars,
                    href=reverse("web:batch", args=[batch_id]),
                    water_left=water_left(cure) if left is None else left,
                    sample_bars=min(bars[batch_id], row.bars) if number == 0 else 0,
                    note=note,
                    said=said,
                    beside=beside(cure),
                )
            )
    return found


def _noted(cure: Cure, ahead: Ahead) -> tuple[str, str]:
    """Return what stands beside a batch's mark, and the same where nothing is seen."""
    if ahead.days:
        return ahead.note(cure), ahead.said(cure)
    window = short_window(cure, ahead.calendar)
    day = f"day {ahead.calendar.days_since(cure.batch.cut_at)}" if cure.state == State.CURING else ""
    return (window.note, f"{day}, {window.said}") if window else (day, day)


def _drawing(
    rack: Rack, positions: Sequence[Position], stands: dict[int, list[StandingBatch]], free_by: Mapping[int, str]
) -> RackDrawing:
    levels: dict[int, list[Position]] = defaultdict(list)
    for position in positions:
        levels[position.level].append(position)
    return RackDrawing(
        name=rack.name,
        href=reverse("web:rack", args=[rack.pk]),
        key=f"rack-{rack.pk}",
        levels=tuple(
            RackLevel(
                name=f"level {level}",
                positions=tuple(_position(place, stands[place.pk], free_by.get(place.pk, "")) for place in places),
            )
            for level, places in sorted(levels.items())
        ),
    )


def _position(position: Position, batches: list[StandingBatch], free_by: str) -> RackPosition:
    return RackPosition(
        name=f"place {position.place}",
        capacity=position.capacity_bars,
        batches=tuple(batches),
        href=reverse("web:position", args=[position.pk]),
        free_by=free_by,
    )


def _loose(cures: Iterable[Cure], standing: Standing) -> Iterable[LooseBatch]:
    for cure in cures:
        loose, batch = standing.loose(cure.batch), cure.batch
        if loose > 0:
            yield LooseBatch(
                name=str(batch),
                url=reverse("web:batch", args=[batch.pk]),
                place_url=reverse("web:batch_place", args=[batch.pk]),
                bars=without_place(loose, batch.bars_left),
                mark=mark_of(cure.shown_as),
                beside=beside(cure),
            )
