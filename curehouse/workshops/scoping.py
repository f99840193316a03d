"""Every root row belongs to a workshop, and nothing reaches it except through that workshop.

``Model.objects`` refuses to work until it is told the workshop: ``Batch.objects.within(workshop)``.
``Model.unscoped`` exists for Django itself (relations, migrations) and for the sweeps of the
worker that look for due work in all workshops; a test lists the modules that may use it.
"""

from typing import Any, NoReturn, Self

from django.db import models

from curehouse.common.errors import NotHere
from curehouse.common.ledger import LedgerModel, LedgerQuerySet


class ScopeMissing(RuntimeError):
    """Code asked for rows without saying whose: a mistake of the programmer."""


class ScopedQuerySet(models.QuerySet):
    """Rows of one workshop."""

    def within(self, workshop: models.Model) -> Self:
        """Return the rows of *workshop*."""
        return self.filter(workshop=workshop)

    def get_here(self, pk: int, *, what: str) -> Any:
        """Return the row, or raise :class:`NotHere` with a sentence that names *what*."""
        row = self.filter(pk=pk).first()
        if row is None:
            raise NotHere("not_here", f"There is no such {what} in this workshop.")
        return row


class ScopedManager(models.Manager):
    """A manager whose only way in is :meth:`within`."""

    _queryset_class: type[ScopedQuerySet] = ScopedQuerySet

    def get_queryset(self) -> NoReturn:
        raise ScopeMissing(f"{self.model.__name__}.objects needs a workshop: {self.model.__name__}.objects.within(workshop).")

    def within(self, workshop: models.Model) -> Any:
        """Return the rows of *workshop*."""
        return self._queryset_class(model=self.model, using=self._db).within(workshop)


class ScopedModel(models.Model):
    """Base of every row that belongs to a workshop."""

    # No index of its own: nearly every row has the same workshop, and SQLite, which keeps no
    # statistics unasked, would read a whole table by it rather than a batch's few rows.
    workshop = models.ForeignKey("workshops.Workshop", on_delete=models.PROTECT, related_name="+", db_index=False)

    unscoped = ScopedQuerySet.as_manager()
    objects = ScopedManager()

    class Meta:
        abstract = True


class ScopedLedgerQuerySet(LedgerQuerySet, ScopedQuerySet):
    """Ledger rows of one workshop."""


class ScopedLedger(LedgerModel, ScopedModel):
    """Base of every ledger of a workshop."""

    unscoped = ScopedLedgerQuerySet.as_manager()
    objects = ScopedManager.from_queryset(ScopedLedgerQuerySet)()

    class Meta:
        abstract = True
