"""The round as a path through pages: which walk a visit is on, and what comes next."""

from dataclasses import dataclass
from urllib.parse import urlencode

from django.http import HttpRequest
from django.urls import reverse

from curehouse.common.errors import NotHere
from curehouse.curing.models import Reading, SampleBar
from curehouse.curing.rounds import Walk, walk_of_batch, walk_of_day
from curehouse.making.models import Batch
from curehouse.web.access import Visit

BATCH, AFTER, ON_ROUND = "batch", "after", "round"


@dataclass(frozen=True, slots=True)
class Path:
    """A walk and the addresses of its pages."""

    walk: Walk

    def _to(self, name: str, *args: int, **query: object) -> str:
        if self.walk.batch is not None:
            query[BATCH] = self.walk.batch.pk
        address = reverse(f"web:{name}", args=args)
        return f"{address}?{urlencode(query)}" if query else address

    @property
    def start(self) -> str:
        """Return where the walk begins, or goes on."""
        return self._to("round")

    @property
    def end(self) -> str:
        """Return the page at the walk's end."""
        return self._to("round_end")

    def bar(self, bar: SampleBar, *, after: Reading | None = None) -> str:
        """Return the page on which *bar* is weighed, which says that *after* was written."""
        return self._to("round_bar", bar.pk, **({AFTER: after.pk} if after else {}))

    def gone(self, bar: SampleBar) -> str:
        """Return the page that says what became of *bar*."""
        return self._to("round_gone", bar.pk)

    def reading(self, name: str, reading: Reading) -> str:
        """Return a page about *reading* that leads back into the walk."""
        return self._to(name, reading.pk, **{ON_ROUND: 1})

    @property
    def reading_query(self) -> str:
        """Return what the address of a page about a weighing ends with, so that it leads back here."""
        batch = {} if self.walk.batch is None else {BATCH: self.walk.batch.pk}
        return f"?{urlencode({ON_ROUND: 1, **batch})}"

    def onwards(self, bar: SampleBar, *, after: Reading | None = None) -> str:
        """Return the page of the next bar to be weighed, or of the walk's end."""
        stop = self.walk.after(bar)
        if stop is not None:
            return self.bar(stop.bar, after=after)
        return self._to("round_end", **({AFTER: after.pk} if after else {}))


def number_in(request: HttpRequest, name: str) -> int | None:
    """Return a row's number from the address, or None where there is none."""
    text = request.GET.get(name, "")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 19 else None


def path_of(request: HttpRequest, visit: Visit) -> Path:
    """Return the path of a visit: past the bars due today, or past one batch's where the address names it."""
    if BATCH not in request.GET:
        return Path(walk_of_day(visit.workshop, at=visit.at))
    pk = number_in(request, BATCH)
    if pk is None:
        raise NotHere("not_here", "There is no such batch in this workshop.")
    batch = Batch.objects.within(visit.workshop).select_related("formula").get_here(pk, what="batch")
    return Path(walk_of_batch(visit.workshop, batch, at=visit.at))
