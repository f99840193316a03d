"""What is said of a pour at the table: what to do, and why, in a sentence or two."""

from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from curehouse.common.time import day_words, local_day
from curehouse.common.units import show_at_least, show_at_most, to_grams
from curehouse.core.chemistry.at_table import Answer, AtTable, Why
from curehouse.core.chemistry.finding import Finding
from curehouse.core.chemistry.findings import SOFT_SUPERFAT
from curehouse.core.chemistry.words import superfat_words, told
from curehouse.making.models import Pour, PourStep
from curehouse.making.pouring.sheet import LYE
from curehouse.making.pouring.table import Line
from curehouse.workshops.models import Workshop

WHY_WORDS: Mapping[Why, str] = {
    Why.UNDISSOLVED: "Undissolved lye was seen: a grain of it burns whoever finds it in a bar.",
    Why.WRONG_ALKALI: "It is another lye than the formula's: a gram of one does not do what a gram of the other does.",
    Why.DOUBTED: "Something about it was doubted, and nobody can tell any more what these bars are.",
    Why.NOT_KNOWN: "What one of its fats takes, or how strong its lye is, is not known: so nobody can say that it is safe.",
    Why.TOO_MUCH_LYE: "There is so much lye that no sensible amount of fat makes it safe.",
    Why.TOO_LITTLE_WATER: "The water in front could not dissolve all of the lye: some of it went into the fats undissolved.",
    Why.AFTER_TRACE: "It may be caustic, and after trace no fat mends it.",
}
# What can be put right as long as lye and fats have not met: weighed anew, another lot, a certificate's figure.
MENDABLE = frozenset({Why.NOT_KNOWN, Why.TOO_MUCH_LYE, Why.WRONG_ALKALI})


def low_words(found: AtTable) -> str:
    """Return the superfat with its ends, the low one first: by it the pour is judged."""
    if found.superfat is None:
        return "Its superfat is not known."
    ends = found.superfat.of_fats
    return f"Superfat at the least {superfat_words(ends.low)}, at the most {superfat_words(ends.high, up=True)}."


def soft_words(found: AtTable) -> str:
    """Return what is said of so much fat that the bars stay soft, counting the milk's own; nothing where they do not."""
    if found.superfat is None or found.superfat.effective.middle < SOFT_SUPERFAT:
        return ""
    whole = superfat_words(found.superfat.effective.middle)
    return f" So much fat is left over, {whole} with the milk’s, that bars may stay soft."


def answer_words(found: AtTable) -> str:
    """Return in words what the figures say."""
    if found.answer is Answer.SAFE:
        return f"Safe with these figures. {low_words(found)}{soft_words(found)}"
    if found.answer is Answer.AS_READ:
        return (
            f"{low_words(found)} No worse than what was confirmed with its formula: "
            "it may be caustic, so its alkalinity is checked before anyone washes with it."
        )
    if found.answer is Answer.ADD_FAT:
        return f"It may be caustic. {low_words(found)} Before trace, and only then, more fat makes it safe."
    return " ".join(WHY_WORDS[why] for why in found.why)


def whole_words(said: str) -> str:
    """Return a weight without a nought behind its point: read at arm's length, 700.0 is one more figure to mistake."""
    figure, _blank, unit = said.partition(" ")
    return f"{figure.removesuffix('.0')} {unit}"


def weight_words(line: Line, grams: Decimal, unit: str) -> str:
    """Return what is to be weighed of a line: lye never rounded up, all else never short."""
    return show_at_most(grams, unit) if line.slot.role == LYE else whole_words(show_at_least(grams, unit))


def shown_g(line: Line, grams: Decimal, unit: str) -> Decimal:
    """Return a weight as it is shown, in grams: what a maker types who weighed just that."""
    return to_grams(Decimal(weight_words(line, grams, unit).partition(" ")[0]), unit)


def water_words(finding: Finding, unit: str) -> str:
    """Return what is said where the water in front cannot dissolve the lye, and what helps at the table."""
    words = told(finding, lambda grams: whole_words(show_at_least(grams, unit)))
    is_short = "needed_g" in finding.figures
    return f"{words.says} {'Weigh more of the liquid in front before the lye goes in.' if is_short else words.remedy}"


def off_words(line: Line, amount_g: Decimal, target_g: Decimal, unit: str) -> str:
    """Return how far a weight is from what was meant."""
    differs = abs(amount_g - target_g)
    side = "over" if amount_g > target_g else "short of"
    return (
        f"{show_at_most(amount_g, unit)} of {line.slot.name} is {show_at_most(differs, unit)} {side} "
        f"the {weight_words(line, target_g, unit)} that are meant."
    )


def when_words(moment: datetime, workshop: Workshop, *, at: datetime) -> str:
    """Return a moment on the workshop's clock: the time, and the day where it is another than today."""
    local = moment.astimezone(ZoneInfo(workshop.time_zone))
    day, today = local.date(), local_day(at, workshop.time_zone)
    return f"{local:%H:%M}" if day == today else f"{day_words(day, today=today)}, {local:%H:%M}"


def over_words(pour: Pour, *, at: datetime) -> str:
    """Return who ended a pour, when, and what came of it."""
    ends = PourStep.objects.within(pour.workshop).filter(pour=pour, kind__in=[PourStep.Kind.FINISHED, PourStep.Kind.STOPPED])
    last = ends.in_order().last()
    who = "Somebody" if last is None else last.signed_by
    when = "" if pour.ended_at is None else f" ({when_words(pour.ended_at, pour.workshop, at=at)})"
    came = f": it is {pour.batch}" if pour.batch is not None else ": nothing came of it"
    done = "finished" if pour.state == Pour.State.FINISHED else "stopped"
    return f"{who} {done} this pour{when}{came}."
