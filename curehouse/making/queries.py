"""Questions about batches."""

from typing import Self

from django.db.models import OuterRef, Subquery

from curehouse.workshops.scoping import ScopedLedgerQuerySet, ScopedQuerySet


class BatchQuerySet(ScopedQuerySet):
    """Batches."""

    def open(self) -> Self:
        """Return the batches that still stand in the house."""
        return self.filter(state__in=["poured", "curing"])

    def newest_first(self) -> Self:
        """Return the batches by pour, newest first."""
        return self.order_by("-poured_at", "-id")

    def with_last_check(self) -> Self:
        """Add ``last_check_passed``: True, False, or None where no check was made."""
        checks = self.model._meta.get_field("safety_checks").related_model.unscoped
        newest = checks.filter(batch=OuterRef("pk")).newest_first()
        return self.annotate(last_check_passed=Subquery(newest.values("passed")[:1]))


class SafetyCheckQuerySet(ScopedLedgerQuerySet):
    """Safety checks."""

    def newest_first(self) -> Self:
        """Return the checks, the one that counts first."""
        return self.order_by("-at", "-id")
