"""Why a batch stays soft: the causes that its figures support, ranked, and what to do about them."""

from collections.abc import Iterable
from statistics import median

from .findings import Findings
from .looks import DRIER, Cause, is_dry_but_dents, looks
from .rule import BatchAtMoment, Reason
from .series import MOMENT_NOISE_DAYS, WEEK_DAYS
from .words import listed

# So many causes are told with a sentence each, the others by their figure alone.
MOST_TOLD = 3
# Bars of one round are weighed within this.
SESSION_DAYS = 1.0


def causes(batch: BatchAtMoment, found: Findings) -> tuple[Cause, ...]:
    """Return the causes of softness that the figures support, strongest first; often none.

    Of a batch that is dry and dents those that keep water in it are left out.
    """
    known = [look.cause for look in looks(batch, found) if look.cause is not None]
    if is_dry_but_dents(found):
        known = [cause for cause in known if not cause.of_water]
    return tuple(sorted(known, key=lambda cause: (-cause.strength, cause.reason.code)))


def cause_reasons(batch: BatchAtMoment, found: Findings) -> tuple[Reason, ...]:
    """Return what is said of the causes: the strongest three, the others in short; and where none explains it, that."""
    known = causes(batch, found)
    told, others = known[:MOST_TOLD], known[MOST_TOLD:]
    said = [cause.reason for cause in told]
    if others:
        text = f"Out of the usual too, but less so: {listed([cause.seen for cause in others])}."
        said.append(Reason("cause_others", text, tuple(figure for cause in others for figure in cause.reason.figures)))
    if not any(cause.next_time for cause in known):
        said.append(_nothing_unusual(batch, found))
    return tuple(said)


def remedies_now(known: Iterable[Cause], found: Findings) -> tuple[str, ...]:
    """Return what to do with this batch; a dry one is not sent to dry."""
    first = () if is_dry_but_dents(found) else (DRIER,)
    return tuple(dict.fromkeys([*first, *(cause.now for cause in tuple(known)[:MOST_TOLD] if cause.now)]))


def remedies_next(batch: BatchAtMoment, known: Iterable[Cause], found: Findings) -> tuple[str, ...]:
    """Return what to change in the next batch of the formula, or where to look where no figure says that."""
    steps = tuple(dict.fromkeys(cause.next_time for cause in tuple(known)[:MOST_TOLD] if cause.next_time))
    return steps or (_look_yourself(batch, found),)


def loss_since_cut(found: Findings) -> tuple[float, float] | None:
    """Return the day of the newest weighing of bars weighed at the cut, and what they had lost by then, in %.

    The median over the bars of that session; None within the first week, when a day more or less is all of it.
    """
    bars = [bar for bar in found.bars if bar.starts_at_cut]
    day = max((bar.newest_day for bar in bars), default=0.0)
    if day < WEEK_DAYS - MOMENT_NOISE_DAYS:
        return None
    return day, median(bar.total_loss_pct for bar in bars if bar.newest_day > day - SESSION_DAYS)


def _nothing_unusual(batch: BatchAtMoment, found: Findings) -> Reason:
    """Say which figures were looked at for a cause and are not out of the ordinary."""
    usual = [look for look in looks(batch, found) if look.cause is None]
    if not usual:
        return Reason("no_cause", "Its liquid, its water share and the time to its cut are not on record: no cause shows.")
    figures = tuple(figure for look in usual for figure in look.figures)
    return Reason("no_cause", f"Looked at and not unusual: {listed([look.seen for look in usual])}.", figures)


def _look_yourself(batch: BatchAtMoment, found: Findings) -> str:
    """Return what may have kept a batch soft besides what is on record of it."""
    beside, open_ = batch.circumstances, []
    if beside.lye_of_asked_pct is None:
        open_.append("lye weighed short")
    if batch.superfat is None:
        open_.append("a superfat of about 8 % or more (a milk's own fat counts)")
    if beside.double_bonds_pct is None:
        open_.append("much of fats that stay soft")
    if not is_dry_but_dents(found):
        open_.append("a damp or cold place, bars without air around them")
    return (
        f"Look yourself for what is not entered here: {', '.join(open_) or 'a fat or a lye that is not what its label says'}."
    )
