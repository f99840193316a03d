"""Questions about what keeps the bars of a row's batch in the house."""

from typing import Self

from django.db.models import OuterRef, QuerySet, Subquery

from curehouse.making.models import Batch
from curehouse.making.queries import hold_cause_of, last_check_of

_NOT_WEIGHED = "not_weighed"


class Obstructed(QuerySet):
    """Rows of one batch each."""

    def with_obstacles(self) -> Self:
        """Add what :func:`curehouse.curing.obstacles.obstacles_of` goes by.

        ``last_check_passed``, ``hold_cause``, and ``last_measured``: the state when it was last weighed.
        """
        verdicts = Batch._meta.get_field("assessments").related_model.unscoped
        measured = verdicts.filter(batch=OuterRef("batch")).exclude(state=_NOT_WEIGHED).newest_first()
        return self.annotate(
            last_check_passed=last_check_of(Batch, "batch"),
            hold_cause=hold_cause_of(Batch, "batch"),
            last_measured=Subquery(measured.values("state")[:1]),
        )
