"""What a batch that waits costs a workshop, and the work of an order: by its own word, or by what goes into its batches."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from statistics import median

from django.db.models import Count, DecimalField, F, Q, Sum

from curehouse.core.stock.reorder.things import Costs
from curehouse.making.models import BatchUse
from curehouse.workshops.models import Workshop

_KNOWN = timedelta(days=730)
# Fewer batches of which all is priced tell no usual one (our own choice, no source).
LEAST_BATCHES = 3
# Of what goes into a usual batch (our own choice, no source): a batch that waits, each day of it, the work of an order.
OF_BATCH, OF_DAY, OF_WORK = Decimal("0.25"), Decimal("0.05"), Decimal("0.085")
# Where no batch tells it, as where 60 goes into one, in whatever the workshop counts in.
UNKNOWN_BATCH = Decimal(60)
_CENT = Decimal("0.01")
_MONEY = DecimalField(max_digits=18, decimal_places=6)


@dataclass(frozen=True, slots=True)
class WaitingCosts:
    """A batch that waits, each day it does, and the work of an order, in the workshop's currency.

    ``said``: the names of those that the workshop set itself. The others are shares of what goes into a batch here, in the
    median of those of which all is priced (``batch_goods``); None where too few are.
    """

    late_batch: Decimal
    late_day: Decimal
    order_work: Decimal
    said: frozenset[str]
    batch_goods: Decimal | None

    @property
    def costs(self) -> Costs:
        """Return what a night reckons with."""
        return Costs(late_batch=float(self.late_batch), late_day=float(self.late_day))


def waiting_costs(*, workshop: Workshop, at: datetime) -> WaitingCosts:
    """Return what it is here; one query."""
    own = {
        "late_batch": workshop.late_batch_cost, "late_day": workshop.late_day_cost, "order_work": workshop.order_work_cost
    }  # fmt: skip
    said = frozenset(name for name, amount in own.items() if amount is not None)
    goods = _batch_goods(workshop, at)
    usual = UNKNOWN_BATCH if goods is None else goods
    shares = {"late_batch": OF_BATCH, "late_day": OF_DAY, "order_work": OF_WORK}
    found = {
        name: (usual * shares[name]).quantize(_CENT) if amount is None else amount for name, amount in own.items()
    }  # fmt: skip
    return WaitingCosts(**found, said=said, batch_goods=goods)


def _batch_goods(workshop: Workshop, at: datetime) -> Decimal | None:
    """Return what the goods of a batch cost in the median, of batches of which every use is priced."""
    uses = BatchUse.objects.within(workshop).in_force().filter(batch__poured_at__gte=at - _KNOWN)
    rows = uses.order_by().values("batch").annotate(
        cost=Sum(-F("movement__amount") * F("movement__lot__unit_cost"), output_field=_MONEY),
        unpriced=Count("pk", filter=Q(movement__lot__unit_cost__isnull=True)),
    )  # fmt: skip
    priced = [row["cost"] for row in rows if not row["unpriced"] and row["cost"]]
    return Decimal(str(median(priced))).quantize(_CENT) if len(priced) >= LEAST_BATCHES else None
