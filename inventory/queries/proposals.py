"""Questions about what the house would order."""

from typing import Any, Self

from django.db.models import Max

from curehouse.workshops.scoping import ScopedLedgerQuerySet, ScopedQuerySet


class ProposalQuerySet(ScopedQuerySet):
    """Proposals."""

    def undecided(self) -> Self:
        """Return those whose order is neither sent nor called off, by the day until which they wait."""
        return self.filter(order__state="written").select_related("order__supplier").order_by("decide_by", "order__number")

    def by_material(self) -> dict[int, Any]:
        """Return, by the key of each material that is on them, the undecided one that waits the shortest."""
        found: dict[int, Any] = {}
        for one in self.undecided():
            for line in one.lines:
                found.setdefault(line["material"], one)
        return found


class PutOffQuerySet(ScopedLedgerQuerySet):
    """What was put off."""

    def newest_first(self) -> Self:
        """Return what was put off, the last first."""
        return self.select_related("material", "by_user", "by_device").order_by("-pk")

    def newest_key(self) -> int:
        """Return the key of what was put off last; 0 where nothing ever was."""
        return self.aggregate(newest=Max("pk"))["newest"] or 0

    def newest_of_each(self) -> dict[int, Any]:
        """Return what was said last of each material, by its key, whether its day has come or not."""
        newest = self.order_by().values("material").annotate(newest=Max("pk")).values("newest")
        return {one.material_id: one for one in self.filter(pk__in=newest)}
