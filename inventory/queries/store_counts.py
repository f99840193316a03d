"""Questions about store counts."""

from typing import Self

from django.db.models import Count, Exists, OuterRef, Q

from curehouse.workshops.scoping import ScopedQuerySet


class StoreCountQuerySet(ScopedQuerySet):
    """Store counts."""

    def under_way(self) -> Self:
        """Return the one that is not ended, if there is one."""
        return self.filter(ended_at__isnull=True)

    def newest_first(self) -> Self:
        """Return the store counts, the last first."""
        return self.order_by("-begun_at", "-pk")

    def with_figures(self) -> Self:
        """Add how many lots were counted, how many of them not as booked, and how many by eye; without what was taken back."""
        in_force = Q(counts__taken_back_by__isnull=True) & (
            Q(counts__movement__isnull=True) | Q(counts__movement__corrected_by__isnull=True)
        )
        counts = self.model._meta.get_field("counts").related_model.unscoped.not_taken_back()
        # A lot that was weighed after all is not judged by eye.
        later = counts.filter(store_count=OuterRef("pk"), lot=OuterRef("counts__lot"), pk__gt=OuterRef("counts__pk"))
        lots = "counts__lot"
        return self.annotate(
            lots_counted=Count(lots, filter=in_force, distinct=True),
            lots_differing=Count(lots, filter=in_force & Q(counts__movement__isnull=False), distinct=True),
            lots_by_eye=Count(lots, filter=in_force & Q(counts__is_estimate=True) & ~Exists(later), distinct=True),
        )
