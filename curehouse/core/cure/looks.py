"""What may keep a batch soft: each figure held against its usual band, with the sentence and the remedies if beyond.

How strong a cause is: how far its figure lies beyond the band, in widths of that band (0 at its end, 1 one width
beyond). So hours and per cent can be ranked together. Percent, hours and days only: the same words in g and oz.
"""

from collections.abc import Callable
from dataclasses import dataclass

from .findings import Findings
from .rule import BatchAtMoment, EffectiveSuperfat, Figure, Reason
from .words import number, number_above, number_exact


@dataclass(frozen=True, slots=True)
class Band:
    """What is usual of a figure, from its low to its high end."""

    low: float
    high: float

    def above(self, value: float) -> float:
        """Return how far *value* lies above the band, in widths of it; below 0 where it does not."""
        return (value - self.high) / (self.high - self.low)

    def below(self, value: float) -> float:
        """Return how far *value* lies below the band, in widths of it; below 0 where it does not."""
        return (self.low - value) / (self.high - self.low)


# All of these: common practice, no source.
LIQUID_PCT = Band(28.0, 38.0)
# Jugs and ladles keep and bring so much that a point of the fats is nobody's slip.
LIQUID_OVER_PLAN_POINTS = 1.0
# 38 g of water with 100 g of fats and about 14 g of lye are 38 / 152; 28 g are 28 / 142.
WATER_SHARE_PCT = Band(20.0, 25.0)
HOURS_TO_CUT = Band(24.0, 72.0)
# With about so much fat left over a bar stays soft.
SUPERFAT_PCT = Band(2.0, 8.0)
LYE_OF_ASKED_PCT = Band(98.0, 102.0)
DOUBLE_BONDS_PCT = Band(45.0, 70.0)
ROOM_HUMIDITY_PCT = Band(40.0, 60.0)
# By the rule itself: more than half of the bars dent.
DENTING_PCT = Band(0.0, 50.0)
# Less than this nobody reads off a range told to a tenth.
LEAST_LAG_POINTS = 0.05
MOST_SAID_HOURS = 48.0
# A share that is a bound to the maker is not always one to a float.
_NOISE = 1e-9

DRIER = "Leave it on the rack with air on all sides, in a drier and warmer room, and weigh it every week."
MORE_WEEKS = "Give it more weeks on the rack: more water than usual has to leave it."
FIRMS_SLOWLY = "Give it more weeks: bars of such fats firm slowly, and not by drying alone."
_CERTIFICATES = "type the saponification values and the purity from the certificates of your lots"


@dataclass(frozen=True, slots=True)
class Cause:
    """A cause that a figure supports, how strong it is, and what to do with this batch and next time ("" for nothing).

    `of_water`: it keeps water in the bar, so of a bar that is dry it explains nothing. `seen` is the figure in short.
    """

    reason: Reason
    seen: str
    strength: float
    of_water: bool
    now: str
    next_time: str


@dataclass(frozen=True, slots=True)
class Look:
    """A figure that was looked at: in short, and the cause it is, if it is one."""

    seen: str
    figures: tuple[Figure, ...]
    cause: Cause | None = None


def looks(batch: BatchAtMoment, found: Findings) -> list[Look]:
    """Return what was looked at, for which there is a figure, in a fixed order."""
    ways: tuple[Callable[[BatchAtMoment], Look | None], ...] = (
        _liquid,
        _water_share,
        _cut_early,
        _superfat,
        _lye_short,
        _soft_fats,
        _slow_drying,
        _humid_room,
    )
    seen = (*(way(batch) for way in ways), _dry_but_dents(found))
    return [look for look in seen if look is not None]


def _look(
    code: str,
    seen: str,
    figures: tuple[Figure, ...],
    *,
    beyond: float,
    text: str,
    next_time: str,
    now: str = "",
    of_water: bool = False,
) -> Look:
    """Return a look that is a cause where its figure lies *beyond* its band (in widths of it, above 0)."""
    if beyond <= _NOISE:
        return Look(seen, figures)
    return Look(seen, figures, Cause(Reason(f"cause_{code}", text, figures), seen, beyond, of_water, now, next_time))


def _liquid(batch: BatchAtMoment) -> Look | None:
    pct, planned = batch.liquid_pct_of_fats, batch.circumstances.planned_liquid_pct
    if pct is None:
        return None
    figures: tuple[Figure, ...] = (Figure("liquid_of_fats", pct, "%"),)
    said, over_plan = f"{number_above(pct, LIQUID_PCT.high) if pct > LIQUID_PCT.high else number(pct)} % of the fats", 0.0
    if planned is not None:
        figures += (Figure("planned_liquid_of_fats", planned, "%"),)
        over_plan = pct - planned - LIQUID_OVER_PLAN_POINTS
    usual = "28 to 38 % is usual."
    if planned is None or over_plan <= _NOISE:
        text, next_time = f"Its liquid was {said}; {usual}", "Next time plan less liquid: 28 to 38 % of the fats is usual."
    else:
        points = f"{number(pct - planned)} points of them more than its formula asks ({number(planned)} %)"
        text = f"Its liquid was {said}, {points}; {usual}"
        next_time = "Next time weigh all of its liquid against the plan: ice and the milk at trace are part of it."
        if planned > LIQUID_PCT.high:
            next_time += " And plan less of it: 28 to 38 % of the fats is usual."
    beyond = max(LIQUID_PCT.above(pct), over_plan / (LIQUID_PCT.high - LIQUID_PCT.low))
    seen = f"liquid at {said}"
    return _look(
        "liquid", seen, figures, beyond=beyond, text=text, next_time=next_time, now=MORE_WEEKS, of_water=True
    )  # fmt: skip


def _water_share(batch: BatchAtMoment) -> Look | None:
    if batch.water_share is None:
        return None
    pct, liquid_pct = 100 * batch.water_share, batch.liquid_pct_of_fats
    # Too much liquid says it already.
    is_told = liquid_pct is not None and liquid_pct > LIQUID_PCT.high
    said = number_above(pct, WATER_SHARE_PCT.high) if pct > WATER_SHARE_PCT.high else number(pct)
    return _look(
        "water_share",
        f"water at {said} % of the fresh bar",
        (Figure("water_share", pct, "%"),),
        beyond=0.0 if is_told else WATER_SHARE_PCT.above(pct),
        text=f"{said} % of the fresh bar was water; usual recipes stay under 25 %.",
        next_time="Next time plan less liquid.",
        now=MORE_WEEKS,
        of_water=True,
    )


def _cut_early(batch: BatchAtMoment) -> Look | None:
    hours = batch.cut_after_hours
    if hours is None:
        return None
    return _look(
        "cut_early",
        f"the cut after {_span(hours)}",
        (Figure("cut_after", hours, "h"),),
        beyond=HOURS_TO_CUT.below(hours),
        text=f"Cut after {_span(hours)}; one to three days is usual.",
        next_time="Next time cut after one to three days.",
        of_water=True,
    )


def _superfat(batch: BatchAtMoment) -> Look | None:
    superfat = batch.superfat
    if superfat is None:
        return None
    said = _superfat_words(superfat)
    seen, figures = f"an effective superfat of {said}", _superfat_figures(superfat)
    most = superfat.middle_pct if superfat.high_pct is None else superfat.high_pct
    if most < SUPERFAT_PCT.high - _NOISE:
        return Look(seen, figures)
    is_middle = superfat.middle_pct >= SUPERFAT_PCT.high - _NOISE
    so = "was" if is_middle else "was reckoned at"
    least = number_exact(SUPERFAT_PCT.high)
    text = f"Its superfat, the milk's own fat counted, {so} {said}; from about {least} % on bars stay soft."
    # Where only its high end is so high nobody knows that it was that: it comes last. So does what short lye explains.
    strength = max(0.0, SUPERFAT_PCT.above(_superfat_to_plan_pct(batch, superfat)))
    next_time = _superfat_next(batch, superfat, is_middle=is_middle)
    reason = Reason("cause_superfat", text, figures)
    return Look(seen, figures, Cause(reason, seen, strength, of_water=False, now="", next_time=next_time))


def _is_lye_short(batch: BatchAtMoment) -> bool:
    lye_pct = batch.circumstances.lye_of_asked_pct
    return lye_pct is not None and LYE_OF_ASKED_PCT.below(lye_pct) > _NOISE


def _superfat_to_plan_pct(batch: BatchAtMoment, superfat: EffectiveSuperfat) -> float:
    """Return what the superfat would have been had its lye been weighed as asked, in %; as it is where that was not short."""
    lye_pct = batch.circumstances.lye_of_asked_pct
    if lye_pct is None or lye_pct <= 0 or not _is_lye_short(batch):
        return superfat.middle_pct
    return 100 - (100 - superfat.middle_pct) * 100 / lye_pct


def _superfat_next(batch: BatchAtMoment, superfat: EffectiveSuperfat, *, is_middle: bool) -> str:
    if superfat.may_be_caustic:
        # Who may have too much lye is not told to leave out less of it.
        return f"Next time {_CERTIFICATES}: that narrows its superfat; do not set it lower before."
    if is_middle and _is_lye_short(batch):
        # It was not set so high, it came so: a lower setting would be one slip more.
        return "Leave its superfat as it is set until its lye was weighed to the plan once."
    if is_middle:
        return f"Next time set a lower superfat, or take less of what brings fat; and {_CERTIFICATES}."
    return f"Next time {_CERTIFICATES}, and measure the milk's fat: then you know whether it was that."


def _lye_short(batch: BatchAtMoment) -> Look | None:
    pct = batch.circumstances.lye_of_asked_pct
    if pct is None:
        return None
    most_short = 100 - LYE_OF_ASKED_PCT.low
    short = f"{number_above(100 - pct, most_short)} %" if 100 - pct > most_short else f"{number(100 - pct)} %"
    next_time = "Next time weigh the lye to the formula's own amount, read it twice, and check the purity of its lot."
    if batch.superfat is not None and batch.superfat.may_be_caustic:
        next_time = (
            "Next time check the scale and the purity of the lye's lot first, and change nothing else: "
            "by the ranges of its fats it may hold too much lye all the same."
        )
    return _look(
        "lye_short",
        f"lye at {number(pct)} % of what its formula asks",
        (Figure("lye_of_asked", pct, "%"),),
        beyond=LYE_OF_ASKED_PCT.below(pct),
        text=f"Its lye was {short} short of what its formula asks for these fats; up to {number(most_short)} % is usual.",
        next_time=next_time,
    )


def _soft_fats(batch: BatchAtMoment) -> Look | None:
    pct = batch.circumstances.double_bonds_pct
    if pct is None:
        return None
    said = number_above(pct, DOUBLE_BONDS_PCT.high) if pct > DOUBLE_BONDS_PCT.high else number(pct)
    return _look(
        "soft_fats",
        f"{said} % fatty acids with double bonds",
        (Figure("double_bonds", pct, "%"),),
        beyond=DOUBLE_BONDS_PCT.above(pct),
        text=f"{said} % of its fatty acids have double bonds; bars stay soft long over {number(DOUBLE_BONDS_PCT.high)} %.",
        next_time="Next time take more of fats rich in lauric, palmitic or stearic acid, and work its lye out anew for them.",
        now=FIRMS_SLOWLY,
    )


def _slow_drying(batch: BatchAtMoment) -> Look | None:
    drying = batch.circumstances.drying
    if drying is None:
        return None
    lag, band = drying.low_pct - drying.loss_pct, Band(drying.low_pct, drying.high_pct)
    day, usual = f"{drying.day:.0f}", f"{drying.low_pct:.1f} to {drying.high_pct:.1f} %"
    moved = f"{'lost' if drying.loss_pct >= 0 else 'gained'} {abs(drying.loss_pct):.1f} %"
    return _look(
        "slow_drying",
        f"{moved} by day {day} ({usual} lost was expected)",
        (
            Figure("loss", drying.loss_pct, "%"),
            Figure("expected_low", drying.low_pct, "%"),
            Figure("expected", drying.middle_pct, "%"),
            Figure("expected_high", drying.high_pct, "%"),
            Figure("loss_on", drying.day, "day"),
        ),
        beyond=band.below(drying.loss_pct) if lag > LEAST_LAG_POINTS else 0.0,
        text=(
            f"By day {day} it had {moved} of its weight, {lag:.1f} points under the range that was expected: "
            f"8 of 10 such batches had lost {usual} by then."
        ),
        next_time="Next time give its bars more air from the day of the cut: fewer to a level, and turned every week.",
        now=DRIER,
        of_water=True,
    )


def _humid_room(batch: BatchAtMoment) -> Look | None:
    pct = batch.circumstances.room_humidity_pct
    if pct is None:
        return None
    said = number_above(pct, ROOM_HUMIDITY_PCT.high) if pct > ROOM_HUMIDITY_PCT.high else number(pct)
    return _look(
        "humid_room",
        f"the room at {said} % humidity",
        (Figure("room_humidity", pct, "%"),),
        beyond=ROOM_HUMIDITY_PCT.above(pct),
        text=f"Its room was at {said} % humidity; 40 to 60 % is usual.",
        next_time="Next time cure it in a room under 60 % humidity.",
        now=DRIER,
        of_water=True,
    )


def is_dry_but_dents(found: Findings) -> bool:
    """Return whether it hardly loses any more, is not too wet, and still most of its bars with a note dent."""
    return found.loss_small and found.water_low and found.dents


def _dry_but_dents(found: Findings) -> Look | None:
    if not (found.noted and found.loss_small and found.water_low):
        return None
    noted, denting = found.noted, found.denting
    bars = f"{denting} of {noted} {'bar' if noted == 1 else 'bars'}"
    return _look(
        "dry_but_dents",
        f"{bars} denting though dry",
        (Figure("denting", denting, "bars"), Figure("noted", noted, "bars")),
        beyond=DENTING_PCT.above(100 * denting / noted),
        text=f"It had dried, and still {bars} dented: that points to its fats, its superfat or its lye, not to water.",
        next_time="",
    )


def _superfat_words(superfat: EffectiveSuperfat) -> str:
    middle = number(superfat.middle_pct)
    if superfat.low_pct is None or superfat.high_pct is None:
        return f"{middle} %"
    return f"{middle} % (may have been {number(superfat.low_pct)} to {number(superfat.high_pct)} %)"


def _superfat_figures(superfat: EffectiveSuperfat) -> tuple[Figure, ...]:
    named = {
        "superfat": superfat.middle_pct,
        "superfat_low": superfat.low_pct,
        "superfat_high": superfat.high_pct,
    }
    return tuple(Figure(name, value, "%") for name, value in named.items() if value is not None)


def _span(hours: float) -> str:
    if hours >= MOST_SAID_HOURS:
        return f"{number(hours / 24)} days"
    said = number(hours)
    if hours < HOURS_TO_CUT.low and said == number(HOURS_TO_CUT.low):
        return f"just under {said} hours"
    return f"{said} hour{'' if said == '1' else 's'}"
