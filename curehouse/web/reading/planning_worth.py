"""What planning earlier is worth, in a sentence, and how that was found."""

from dataclasses import dataclass

from curehouse.core.stock.reorder.earlier import Worth
from curehouse.flows.planning_worth import PlanningWorth, planning_worth
from curehouse.web.access import Visit
from curehouse.web.reading.waiting_costs import waiting_words
from curehouse.web.reading.words import count

_WEEKS = {7: "a week", 14: "two weeks", 21: "three weeks"}
# Less money a year than this is not worth a figure.
_LEAST_MONEY = 1.0
_LEAST_BATCHES = 0.05


@dataclass(frozen=True, slots=True)
class WorthView:
    """One sentence with its figures, and how they were found; where something is missing, what."""

    says: str
    found: tuple[str, ...]


def read_planning_worth(visit: Visit) -> WorthView:
    """Return what the page says."""
    found, money = planning_worth(workshop=visit.workshop, at=visit.at), visit.workshop.currency
    best = found.best
    if best is None:
        return WorthView(f"What planning earlier is worth cannot be said yet. It takes {', and '.join(found.missing)}.", ())
    return WorthView(_says(best, money), tuple(_how(found, best, money)))


def _says(best: Worth, money: str) -> str:
    earlier = _WEEKS[best.earlier_days]
    if best.a_year < _LEAST_MONEY:
        return f"Planning every run earlier than now would save hardly anything here: less than one {money} a year."
    said = f"Planning every run {earlier} earlier than now would save about {best.a_year:.0f} {money} a year here"
    more = []
    if best.less_lying >= _LEAST_MONEY:
        more.append(f"about {best.less_lying:.0f} {money} less would lie in the storeroom")
    if best.fewer_late >= _LEAST_BATCHES:
        more.append(f"about {best.fewer_late:.1f} batches a year fewer would wait for a material")
    return f"{said}: {', and '.join(more)}." if more else f"{said}."


def _how(found: PlanningWorth, best: Worth, money: str) -> list[str]:
    planned = f"{found.planned or 'None'} of them {'was' if found.planned < 2 else 'were'} planned before the day"
    if found.median_days is not None:
        planned += f", half of these {found.median_days:g} days ahead or more"
    known, then = (f"{100 * share:.0f}\u00a0%" for share in (best.known_now, best.known_then))
    by_days = "; ".join(f"{_WEEKS[one.earlier_days]} earlier: {max(one.a_year, 0):.0f} {money}" for one in found.worths)
    return [
        f"By {count(found.pours, 'pour')} of the last year. {planned}.",
        f"When a material has to be ordered, {known} of its use until that comes is planned now; "
        f"{_WEEKS[best.earlier_days]} earlier it would be {then}.",
        f"Of {count(found.used, 'material')} that were used, {found.materials} are sold by somebody, keep, and were used often "
        "enough. For each the level is worked out at which money that lies and batches that wait cost least together, "
        "as runs are planned now and as they would be.",
        f"A year, {by_days}. What would not expire is not counted, so it is rather more.",
        waiting_words(found.waiting, money),
    ]
