"""Questions about sample bars and weighings."""

from collections.abc import Iterable
from typing import Self

from django.db.models import Case, CharField, Exists, F, OuterRef, Q, Subquery, Value, When, Window
from django.db.models.functions import RowNumber

from curehouse.workshops.scoping import ScopedLedgerQuerySet, ScopedQuerySet

COUNTS = "counts"
ASKED = "asked"
CORRECTED = "corrected"
STRUCK = "struck"


class SampleBarQuerySet(ScopedQuerySet):
    """Sample bars."""

    def on_the_rack(self) -> Self:
        """Return the bars that are still weighed, by letter."""
        return self.filter(ended_at__isnull=True).order_by("batch", "letter")


class ReadingQuerySet(ScopedLedgerQuerySet):
    """Weighings."""

    def of_bars(self, bars: Iterable[object]) -> Self:
        """Return the weighings of *bars* as series, oldest first."""
        return self.filter(bar__in=bars).order_by("bar", "moment", "id")

    def of_batches(self, batches: Iterable[object]) -> Self:
        """Return the weighings of *batches* as series, oldest first."""
        return self.filter(bar__batch__in=batches).order_by("bar__batch", "bar__letter", "moment", "id")

    def with_standing(self) -> Self:
        """Add ``standing``: whether a reading counts, is asked about, or was corrected or struck."""
        reviews = self.model._meta.get_field("reviews").related_model.unscoped
        newest = reviews.filter(reading=OuterRef("pk")).order_by("-id")
        return self.annotate(
            last_review=Subquery(newest.values("decision")[:1]),
            has_correction=Exists(self.model.unscoped.filter(corrects=OuterRef("pk"))),
        ).annotate(
            standing=Case(
                When(has_correction=True, then=Value(CORRECTED)),
                When(last_review="struck", then=Value(STRUCK)),
                When(~Q(doubt="") & Q(last_review__isnull=True), then=Value(ASKED)),
                default=Value(COUNTS),
                output_field=CharField(),
            )
        )

    def still_asked(self, batches: Iterable[object]) -> Self:
        """Return the weighings of *batches* whose question nobody has answered."""
        doubted = self.exclude(doubt="").filter(bar__batch__in=batches)
        return doubted.with_standing().filter(standing=ASKED)

    def newest_of_each_batch(self) -> Self:
        """Return each batch's newest weighing that counts or is asked about."""
        place = Window(RowNumber(), partition_by=F("bar__batch"), order_by=[F("moment").desc(), F("pk").desc()])
        standing = self.with_standing().filter(standing__in=[COUNTS, ASKED])
        return standing.annotate(place=place).filter(place=1).order_by("bar__batch")

    def newest_first(self) -> Self:
        """Return the weighings, newest first."""
        return self.order_by(F("moment").desc(), "-id")
