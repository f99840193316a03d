"""Questions about notices and their deliveries."""

from datetime import datetime, timedelta
from typing import Self

from django.db.models import F, Q, Value
from django.db.models.functions import Concat

from curehouse.notices.kinds import AT_ONCE, STOCK, Kind
from curehouse.workshops.scoping import ScopedQuerySet

# Older news is no news: it stands on Today, and the next digest repeats it.
STALE_AFTER = timedelta(days=1)


class NoticeQuerySet(ScopedQuerySet):
    """Notices."""

    def open(self) -> Self:
        """Return the notices that stand on Today; a digest only repeats them and is not one."""
        return self.filter(state="open").exclude(kind=Kind.MORNING)

    def about(self, thing: str) -> Self:
        """Return the notices about *thing*, such as ``batch:12``."""
        return self.filter(about=thing)

    def to_end(self, *, about: str, kinds: list[str] | None) -> Self:
        """Return what still stands of *about* (of these kinds only, where given), digests included."""
        standing = self.filter(state="open", about=about)
        return standing if kinds is None else standing.filter(kind__in=kinds)

    def ended_under(self, keys: list[str]) -> Self:
        """Return the ended notices that told what *keys* tell."""
        return self.filter(~Q(state="open"), key__in=keys)

    def earlier(self) -> Self:
        """Return what does not stand on Today: ended notices, and the digests."""
        return self.filter(~Q(state="open") | Q(kind=Kind.MORNING))

    def of_kind(self, kind: str) -> Self:
        """Return the notices of one kind."""
        return self.filter(kind=kind)

    def that_fold(self) -> Self:
        """Return the notices that ask for one thing together: the round, a look into the storeroom."""
        return self.filter(kind__in=[Kind.WEIGH, *STOCK])

    def episode_goes_on(self) -> Self:
        """Return the notices whose cause still lasts, also those that were seen to (``services.end_episode``)."""
        return self.filter(key=Concat(F("kind"), Value(":"), F("about")))

    def things(self) -> int:
        """Return how many things the notices ask for: what is to be weighed is one round, the storeroom one look."""
        kinds = list(self.order_by().values_list("kind", flat=True))
        single = sum(kind != Kind.WEIGH and kind not in STOCK for kind in kinds)
        return single + (Kind.WEIGH in kinds) + (not STOCK.isdisjoint(kinds))

    def newest_first(self) -> Self:
        """Return the notices, newest first."""
        return self.order_by("-id")


class SubscriptionQuerySet(ScopedQuerySet):
    """People's wishes."""

    def to_be_told(self, kind: str) -> Self:
        """Return who gets a notice of *kind* outside the house: a few at once, the rest by digest."""
        still_here = self.filter(user__memberships__workshop=F("workshop"), user__memberships__left_at__isnull=True)
        if kind == Kind.MORNING:
            return still_here.filter(morning=True)
        return still_here.filter(at_once=True) if kind in AT_ONCE else self.none()


class DeliveryQuerySet(ScopedQuerySet):
    """Deliveries."""

    def due(self, *, at: datetime) -> Self:
        """Return the deliveries to be attempted now: waiting, or left behind by a worker that died."""
        free = Q(claimed_until__isnull=True) | Q(claimed_until__lte=at)
        return self.filter(free, state__in=["waiting", "sending"], next_try_at__lte=at).order_by("next_try_at", "pk")

    def without_mail(self, *, at: datetime) -> Self:
        """Return what ended for want of mail and is still worth sending: open, and not a day old."""
        since = at - STALE_AFTER
        return self.filter(state="no_mail", ended_at__gte=since, notice__state="open", notice__written_at__gte=since).order_by(
            "pk"
        )

    def gone_wrong(self) -> Self:
        """Return what did not plainly go out though its notice still stands, newest first."""
        wrong = self.filter(state__in=["failed", "unknown", "twice"], notice__state="open")
        return wrong.select_related("notice", "user").order_by("-id")
