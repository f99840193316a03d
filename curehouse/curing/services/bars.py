"""The only writer of sample bars."""

from collections.abc import Collection
from datetime import datetime

from django.db import transaction

from curehouse.common.constraints import answered
from curehouse.common.errors import Conflict, Invalid
from curehouse.curing.models import SampleBar
from curehouse.making.models import Batch

LETTERS = "ABCDEFGHIJKL"


@transaction.atomic
def mark_sample_bars(*, batch: Batch, count: int) -> list[SampleBar]:
    """Mark so many more bars of *batch* with the next letters."""
    marked = list(SampleBar.objects.within(batch.workshop).filter(batch=batch))
    used = {bar.letter for bar in marked}
    free = [letter for letter in LETTERS if letter not in used]
    unmarked = batch.bars_left - sum(bar.ended_at is None for bar in marked)
    most = min(len(free), unmarked)
    if batch.state != Batch.State.CURING:
        raise Conflict("not_curing", f"{batch} has no bars on the racks.", field="sample_bars")
    if not free:
        raise Conflict("no_letter", f"All letters from A to {LETTERS[-1]} are used in {batch}.", field="sample_bars")
    if unmarked <= 0:
        raise Conflict("all_marked", f"Every bar of {batch} that is left is a sample bar.", field="sample_bars")
    if not 1 <= count <= most:
        raise Invalid("sample_bars", f"Mark between 1 and {most} sample bars (3 to 5 are usual).", field="sample_bars")
    taken = Conflict(
        "letter_taken", "Somebody marked sample bars of this batch just now: look at it again.", field="sample_bars"
    )
    with answered(SampleBar, {"samplebar_letter_once": taken}):
        return [SampleBar.unscoped.create(workshop=batch.workshop, batch=batch, letter=letter) for letter in free[:count]]


@transaction.atomic
def end_sample_bar(*, bar: SampleBar, why: str, at: datetime) -> SampleBar:
    """Note that a sample bar is gone (sold early, broken): it is not weighed any more."""
    if bar.ended_at is not None:
        raise Conflict("bar_ended", f"Bar {bar.letter} is not weighed any more already.", field="bar")
    reason = " ".join(why.split())[:200]
    if not reason:
        raise Invalid("missing", "Say what became of the bar, such as sold early.", field="why")
    bar.ended_at, bar.ended_why = at, reason
    bar.save(update_fields=["ended_at", "ended_why"])
    return bar


@transaction.atomic
def end_taken_bars(*, batch: Batch, taken: int, letters: Collection[str] | None, why: str, at: datetime) -> list[SampleBar]:
    """End the sample bars among *taken* bars that just left *batch* (locked by the caller), and return them.

    With the last bar all of them go. *letters* must name at least as many as there are too few
    other bars; where it is None, the last letters go.
    """
    weighed = list(SampleBar.objects.within(batch.workshop).filter(batch=batch, ended_at__isnull=True).order_by("letter"))
    least = max(len(weighed) - batch.bars_left, 0)
    if batch.bars_left == 0:
        going = weighed
    elif letters is None:
        going = weighed[len(weighed) - least :]
    else:
        going = [bar for bar in weighed if bar.letter in letters]
        if len(going) > taken:
            raise Invalid("sample_bars", f"Name at most {taken}: no more bars are taken out.", field="sample_bars")
        if len(going) < least:
            others = taken - least
            raise Invalid(
                "sample_bars",
                f"Only {others} of these {taken} bars can be others: tick at least {least} of the sample bars.",
                field="sample_bars",
            )
    for bar in going:
        bar.ended_at, bar.ended_why = at, why
        bar.save(update_fields=["ended_at", "ended_why"])
    return going
