"""What the house would order, and what a person did not want ordered for a while."""

from django.db import models
from django.db.models import F, Q

from curehouse.workshops.models import Signed
from curehouse.workshops.scoping import ScopedLedger, ScopedManager, ScopedModel
from inventory.models.orders import Order
from inventory.models.things import Material
from inventory.queries.proposals import ProposalQuerySet, PutOffQuerySet


class Proposal(ScopedModel):
    """What the house would order with an order that is written, with the figures behind each line.

    It is worked out anew each morning until the order is sent or called off; then it stays as it was last.
    ``lines`` is a list: of each line material, offer, packs, why it stands there, the figures of
    :class:`curehouse.core.stock.reorder.drafted.Why` by their names there, and what it does for the freight:
    how many packs are there for it, what it costs, from what goods on it is free (no sum: never), whether these
    are (null: not known since a line came off or costs otherwise). A person may have written the order, or changed
    it: then it says what the house would do.
    """

    order = models.OneToOneField(Order, on_delete=models.PROTECT, related_name="proposal")
    day = models.DateField(help_text="The day as of which it was worked out.")
    decide_by = models.DateField(help_text="The last day on which ordering keeps the risk near what is accepted.")
    lines = models.JSONField(default=list)
    at = models.DateTimeField()

    unscoped = ProposalQuerySet.as_manager()
    objects = ScopedManager.from_queryset(ProposalQuerySet)()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(decide_by__gte=F("day")), name="proposal_decide_by", violation_error_code="day"),
        ]

    def __str__(self) -> str:
        return f"{self.order}, as of {self.day}"


class PutOff(ScopedLedger, Signed):
    """A material that is not to be ordered before a day, and why; until its own day where it is wanted again."""

    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="put_offs")
    day = models.DateField(help_text="The day on which it was put off.")
    until = models.DateField(help_text="From this day on it is proposed again.")
    why = models.CharField(max_length=400)
    at = models.DateTimeField()

    unscoped = PutOffQuerySet.as_manager()
    objects = ScopedManager.from_queryset(PutOffQuerySet)()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~Q(why=""), name="putoff_why", violation_error_code="missing"),
            models.CheckConstraint(condition=Q(until__gte=F("day")), name="putoff_until", violation_error_code="day"),
        ]

    def __str__(self) -> str:
        return f"{self.material} not before {self.until}"
