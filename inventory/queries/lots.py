"""Questions about lots and their papers."""

from datetime import date, datetime
from decimal import Decimal
from typing import Self

from django.db.models import Case, F, OuterRef, Q, QuerySet, Subquery, Sum, Value, When
from django.db.models.functions import Round

from curehouse.workshops.scoping import ScopedLedgerQuerySet, ScopedQuerySet

_STEP = Decimal("0.001")


class LotQuerySet(ScopedQuerySet):
    """Lots."""

    def named(self) -> Self:
        """Return the lots with what their names are made of."""
        return self.select_related("material", "supplier")

    def in_stock(self) -> Self:
        """Return the lots that hold something."""
        return self.filter(on_hand__gt=0)

    def usable(self, *, on: date) -> Self:
        """Return the lots that may be planned with *on* that day: released, not expired, not used up."""
        lasts = Q(best_before__isnull=True) | Q(best_before__gte=on)
        return self.in_stock().filter(lasts, standing="released")

    def waiting(self, *, on: date) -> Self:
        """Return the lots that could be used *on* that day if a person released them."""
        lasts = Q(best_before__isnull=True) | Q(best_before__gte=on)
        return self.in_stock().filter(lasts, standing="quarantine")

    def expiring(self, *, by: date) -> Self:
        """Return the lots in stock whose best-before falls on or before *by*, the earliest first."""
        return self.in_stock().filter(best_before__lte=by).first_expired_first()

    def first_expired_first(self) -> Self:
        """Return the lots in the order in which they are used up; those without a best-before last."""
        return self.order_by(F("best_before").asc(nulls_last=True), "received_on", "pk")

    def here_first(self) -> Self:
        """Return the lots that hold something first, in the order in which they are used up."""
        is_gone = Case(When(on_hand__gt=0, then=Value(0)), default=Value(1))
        return self.order_by(is_gone, F("best_before").asc(nulls_last=True), "-received_on", "pk")

    def by_material_here_first(self) -> Self:
        """Return the lots by the name of their material, of each those that hold something first."""
        is_gone = Case(When(on_hand__gt=0, then=Value(0)), default=Value(1))
        return self.order_by("material__name", is_gone, F("best_before").asc(nulls_last=True), "-pk")

    def used_by_material(self, *, since: datetime) -> dict[int, Decimal]:
        """Return what was used of these lots since a moment, in grams or pieces, by the key of the material.

        Summed lot by lot: of few materials that reads their few lots, however much the house has used lately.
        """
        uses = self.model._meta.get_field("movements").related_model.unscoped.used_since(since)
        total = uses.filter(lot=OuterRef("pk")).order_by().values("lot").annotate(total=Round(Sum("amount"), 3))
        sums: dict[int, Decimal] = {}
        for material, used in self.order_by().annotate(used=Subquery(total.values("total"))).values_list("material", "used"):
            sums[material] = sums.get(material, Decimal(0)) - Decimal(used or 0).quantize(_STEP)
        return sums

    def uses_since(self, moment: datetime) -> QuerySet:
        """Return the movements by which these lots were used since a moment, read lot by lot."""
        return self.model._meta.get_field("movements").related_model.unscoped.used_since(moment).filter(lot__in=self.order_by())

    def newest_first(self) -> Self:
        """Return the lots by house number, the newest first."""
        return self.order_by("-number")


class LotRulingQuerySet(ScopedLedgerQuerySet):
    """Rulings about lots."""

    def newest_first(self) -> Self:
        """Return the rulings, the one that counts first."""
        return self.order_by("-at", "-pk")


class LotValueQuerySet(ScopedLedgerQuerySet):
    """Figures of certificates."""

    def newest_of_each_name(self) -> Self:
        """Return the figures that count: of each lot and name the newest, by name."""
        same = self.model.unscoped.filter(lot=OuterRef("lot"), name__iexact=OuterRef("name")).order_by("-at", "-pk")
        return self.filter(pk=Subquery(same.values("pk")[:1])).order_by("name", "pk")


class LotFileQuerySet(ScopedLedgerQuerySet):
    """Papers of lots."""

    def newest_first(self) -> Self:
        """Return the files, the newest first."""
        return self.order_by("-at", "-pk")
