"""Ledgers: rows that are written once and never changed or deleted.

Three guards hold this: the model (an instance cannot be saved again or deleted), the QuerySet
(no bulk update or delete), and a trigger in the database (:mod:`curehouse.common.guards`), because
each of the first two can be walked around. A correction is a new row that points at the old one.
"""

from typing import Any, NoReturn

from django.db import models


class LedgerError(TypeError):
    """Code tried to change or delete a ledger row: a mistake of the programmer, not of the user."""


class LedgerQuerySet(models.QuerySet):
    """A QuerySet without the verbs that change rows in place."""

    def update(self, **_kwargs: Any) -> NoReturn:
        raise LedgerError(f"{self.model.__name__} is a ledger; write a new row instead.")

    def bulk_update(self, *_args: Any, **_kwargs: Any) -> NoReturn:
        raise LedgerError(f"{self.model.__name__} is a ledger; write a new row instead.")

    def delete(self) -> NoReturn:
        raise LedgerError(f"{self.model.__name__} is a ledger; its rows stay.")

    def update_or_create(self, *_args: Any, **_kwargs: Any) -> NoReturn:
        raise LedgerError(f"{self.model.__name__} is a ledger; write a new row instead.")


class LedgerModel(models.Model):
    """Base of every ledger."""

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise LedgerError(f"{type(self).__name__} {self.pk} is a ledger row; write a new one.")
        super().save(*args, **kwargs)

    def delete(self, *_args: Any, **_kwargs: Any) -> NoReturn:
        raise LedgerError(f"{type(self).__name__} {self.pk} is a ledger row; it stays.")
