"""Questions about materials and suppliers."""

from datetime import date
from decimal import Decimal
from typing import Any, Self

from django.db.models import DecimalField, Exists, F, OuterRef, QuerySet, Subquery, Sum, Value
from django.db.models.functions import Coalesce, Round

from curehouse.workshops.scoping import ScopedQuerySet

_AMOUNT = DecimalField(max_digits=13, decimal_places=3)


class MaterialQuerySet(ScopedQuerySet):
    """Materials."""

    def in_use(self) -> Self:
        """Return the materials that are still bought and used, by name."""
        return self.filter(retired_at__isnull=True).order_by("name", "pk")

    def in_use_first(self) -> Self:
        """Return the materials by name, those that are retired last."""
        return self.order_by(F("retired_at").desc(nulls_first=True), "name", "pk")

    def called(self, name: str) -> Any:
        """Return the material of this name, however its letters are written, or None."""
        return self.filter(name__iexact=name).first()

    def with_stock(self, *, on: date) -> Self:
        """Add ``on_hand`` and ``usable`` (released and not expired *on* that day), and what of it is estimated.

        ``on_hand_is_estimated`` and ``usable_is_estimated`` say whether what a lot holds of it was judged by eye.
        """
        lots = self.model._meta.get_field("lots").related_model.unscoped.filter(material=OuterRef("pk"))
        return self.annotate(
            on_hand=_sum_of(lots.in_stock()),
            usable=_sum_of(lots.usable(on=on)),
            on_hand_is_estimated=Exists(lots.in_stock().filter(is_estimated=True)),
            usable_is_estimated=Exists(lots.usable(on=on).filter(is_estimated=True)),
        )

    def with_first_receipt(self) -> Self:
        """Add ``first_received_on``: since when the house knows the material, or None."""
        lots = self.model._meta.get_field("lots").related_model.unscoped.filter(material=OuterRef("pk"))
        return self.annotate(first_received_on=Subquery(lots.order_by("received_on").values("received_on")[:1]))


def _sum_of(lots: QuerySet) -> Coalesce:
    """Return the sum of what *lots* of the outer material hold, 0 where there are none."""
    # Rounded: SQLite adds decimals as floats.
    total = lots.order_by().values("material").annotate(total=Round(Sum("on_hand"), 3)).values("total")
    return Coalesce(Subquery(total, output_field=_AMOUNT), Value(Decimal(0)), output_field=_AMOUNT)


class SupplierQuerySet(ScopedQuerySet):
    """Suppliers."""

    def in_use(self) -> Self:
        """Return the suppliers that are still bought from, by name."""
        return self.filter(retired_at__isnull=True).order_by("name", "pk")

    def in_use_first(self) -> Self:
        """Return the suppliers by name, those that are retired last."""
        return self.order_by(F("retired_at").desc(nulls_first=True), "name", "pk")

    def called(self, name: str) -> Any:
        """Return the supplier of this name, however its letters are written, or None."""
        return self.filter(name__iexact=name).first()
