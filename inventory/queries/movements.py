"""Questions about the ledger."""

from datetime import datetime
from decimal import Decimal
from typing import Any, Self

from django.db.models import Case, Q, Sum, Value, When
from django.db.models.functions import Coalesce, Round

from curehouse.workshops.scoping import ScopedLedgerQuerySet

_STEP = Decimal("0.001")


class MovementQuerySet(ScopedLedgerQuerySet):
    """Movements."""

    def with_places(self) -> Self:
        """Return the movements with where each stands among what happened: ``moment``, ``told_at`` and ``told_as``.

        Of one moment, what was told later is later. A reversal stands with what it takes back, what
        restates a count with that count, and what was found with what was used: of one place, what came
        comes before what went, so that nothing that was there is shown as owed.
        """
        before = "corrects__count_of__"
        return self.annotate(
            told_at=Coalesce(
                f"{before}restates__for_use__written_at", f"{before}for_use__written_at", f"{before}restates__written_at",
                "corrects__written_at", "count_of__restates__for_use__written_at", "count_of__for_use__written_at",
                "count_of__restates__written_at", "written_at",
            ),
            told_as=Coalesce(
                f"{before}restates__for_use", f"{before}for_use", f"{before}restates__movement",
                # A count without a difference has no row of its own.
                Case(When(**{f"{before}restates__isnull": False}, then=Value(0))),
                "corrects", "count_of__restates__for_use", "count_of__for_use", "count_of__restates__movement",
                Case(When(count_of__restates__isnull=False, then=Value(0))),
                "pk",
            ),
        )  # fmt: skip

    def in_order(self) -> Self:
        """Return the movements as they happened."""
        return self.with_places().order_by("moment", "told_at", "told_as", "-amount", "pk")

    def newest_first(self) -> Self:
        """Return the movements, the last that happened first."""
        return self.with_places().order_by("-moment", "-told_at", "-told_as", "amount", "-pk")

    def with_what_they_follow(self) -> Self:
        """Return the movements with their places, and what they (or what they take back) follow from.

        ``is_a``: their kind; ``follows``: the count, where they correct one or hold it anew; ``found_for``:
        what left the lot, where they were found for it.
        """
        return self.with_places().annotate(
            is_a=Coalesce("corrects__kind", "kind"),
            follows=Coalesce(
                "corrects__count_of__restates", "corrects__count_of", "count_of__restates", "count_of"
            ),
            found_for=Coalesce(
                "corrects__count_of__restates__for_use", "corrects__count_of__for_use", "count_of__restates__for_use",
                "count_of__for_use",
            ),
        )  # fmt: skip

    def in_force(self) -> Self:
        """Return the movements that were not taken back, without the reversals themselves."""
        return self.exclude(kind="reversal").filter(corrected_by__isnull=True)

    def received_lots(self) -> set[int]:
        """Return the keys of the lots that something was received into."""
        return set(self.filter(kind="receive").order_by().values_list("lot", flat=True))

    def with_corrections(self) -> Self:
        """Return the movements with what took them back, and with what was found for them."""
        return self.select_related("corrected_by", "corrects", "count_of__restates", "found__movement__corrected_by")

    def with_their_counts(self) -> Self:
        """Return the movements with the counts they follow from, which say whether those were judged by eye."""
        return self.select_related("count_of__restates", "corrects__count_of__restates")

    def used_since(self, moment: datetime) -> Self:
        """Return what was used since *moment* and not taken back."""
        return self.filter(kind="use", moment__gte=moment, corrected_by__isnull=True)

    def used_by_material(self) -> dict[int, Decimal]:
        """Return the amounts used (above zero) by the key of the material."""
        sums = self.order_by().values_list("lot__material").annotate(total=Round(Sum("amount"), 3))
        return {material: -Decimal(total).quantize(_STEP) for material, total in sums}

    def total(self) -> Decimal:
        """Return the sum of the movements, in grams or pieces."""
        return Decimal(self.aggregate(total=Sum("amount"))["total"] or 0).quantize(_STEP)


class CountQuerySet(ScopedLedgerQuerySet):
    """Counts."""

    def newest_first(self) -> Self:
        """Return the counts, the last first."""
        return self.order_by("-moment", "-pk")

    def standing(self) -> Self:
        """Return the counts that say what a lot held, as they happened.

        A count that was taken back says nothing any more, and what was found at a pour only that there
        was more than booked. What was judged by eye and fitted the book leaves it to the book.
        """
        told = self.filter(restates__isnull=True, for_use__isnull=True, takes_back__isnull=True)
        sets_it = told.exclude(is_estimate=True, movement__isnull=True)
        return sets_it.not_taken_back().order_by("moment", "written_at", "pk")

    def not_taken_back(self) -> Self:
        """Return the counts that were not taken back."""
        in_force = Q(movement__isnull=True) | Q(movement__corrected_by__isnull=True)
        return self.filter(in_force, taken_back_by__isnull=True)

    def that_take_up(self, movement: Any) -> Self:
        """Return what was held against the book anew for *movement*: it is written with it and after it."""
        return self.filter(
            lot=movement.lot_id, restates__isnull=False, written_at=movement.written_at, movement__gt=movement.pk
        ).order_by("pk")  # fmt: skip

    def with_what_took_them_back(self) -> Self:
        """Return the counts with what tells whether they were taken back."""
        return self.select_related("taken_back_by", "movement__corrected_by")

    def by_people(self) -> Self:
        """Return what people counted, without what follows from it, what lists say and what pours found."""
        return self.filter(for_use__isnull=True, restates__isnull=True, takes_back__isnull=True, by_list=False)
