"""Orders: what was asked of a supplier, and each step of what became of it."""

from django.db import models
from django.db.models import Q

from curehouse.workshops.models import Signed
from curehouse.workshops.scoping import ScopedLedger, ScopedManager, ScopedModel
from inventory.models.lots import Lot
from inventory.models.offers import MOST_PACKS, Offer
from inventory.models.things import Material, Supplier
from inventory.order_state import State
from inventory.queries.orders import OrderLineQuerySet, OrderLineStepQuerySet, OrderQuerySet, OrderStepQuerySet


class Order(ScopedModel, Signed):
    """An order with a supplier, under the house's own number.

    ``state`` is what its lines' steps come to (``order_state.py``), kept so that pages read few rows;
    ``manage.py verify_ledger`` recomputes it. What the supplier asks beside the goods is kept as it was
    when the order was sent.
    """

    State = State

    supplier = models.ForeignKey(Supplier, on_delete=models.PROTECT, related_name="orders", db_index=False)
    number = models.PositiveIntegerField(help_text="The house's own number.")
    state = models.CharField(max_length=10, choices=State.choices, default=State.WRITTEN)
    note = models.TextField(blank=True, max_length=4000, help_text="What the supplier is to read with it.")
    sent_on = models.DateField(null=True)
    promised_on = models.DateField(null=True, help_text="The day that the supplier named for this order.")
    freight = models.DecimalField(max_digits=12, decimal_places=2, null=True)
    free_freight_from = models.DecimalField(max_digits=12, decimal_places=2, null=True)
    hazard_surcharge = models.DecimalField(max_digits=12, decimal_places=2, null=True)
    written_at = models.DateTimeField()

    unscoped = OrderQuerySet.as_manager()
    objects = ScopedManager.from_queryset(OrderQuerySet)()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["workshop", "number"], name="order_number_once", violation_error_code="number_taken"
            ),
            models.UniqueConstraint(
                fields=["supplier"],
                condition=Q(state="written"),
                name="order_one_written",
                violation_error_code="one_written",
            ),
            models.CheckConstraint(condition=Q(state__in=State.values), name="order_state", violation_error_code="state"),
            models.CheckConstraint(
                condition=Q(state="written", sent_on__isnull=True)
                | Q(state="called_off")
                | Q(state__in=["sent", "partly_in", "in"], sent_on__isnull=False),
                name="order_sent_has_day",
                violation_error_code="sent_on",
            ),
            models.CheckConstraint(
                condition=(Q(freight__isnull=True) | Q(freight__gte=0))
                & (Q(free_freight_from__isnull=True) | Q(free_freight_from__gte=0))
                & (Q(hazard_surcharge__isnull=True) | Q(hazard_surcharge__gte=0)),
                name="order_costs",
                violation_error_code="negative",
            ),
        ]
        indexes = [
            # OrderQuerySet.with_them: a supplier's orders, and the written one among them.
            models.Index(fields=["supplier", "state"], name="order_of_supplier"),
            # OrderQuerySet.on_the_way: what is still to come, past all that came.
            models.Index(fields=["workshop", "sent_on"], condition=Q(state__in=["sent", "partly_in"]), name="order_on_the_way"),
        ]

    def __str__(self) -> str:
        return f"Order {self.number}, {self.supplier.name}"


class OrderLine(ScopedModel):
    """So many packs of an offer, with the offer's terms as they were then; it changes only while the order is written."""

    order = models.ForeignKey(Order, on_delete=models.PROTECT, related_name="lines")
    offer = models.ForeignKey(Offer, on_delete=models.PROTECT, related_name="lines")
    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="order_lines")
    packs = models.PositiveIntegerField()
    pack = models.DecimalField(max_digits=13, decimal_places=3, help_text="Grams or pieces in a pack.")
    price = models.DecimalField(max_digits=12, decimal_places=4, help_text="Of a pack, by so many packs.")
    article = models.CharField(max_length=80, blank=True)
    is_hazardous = models.BooleanField(default=False)
    shelf_days = models.PositiveIntegerField(null=True)
    lead_days = models.PositiveIntegerField(null=True, help_text="As the supplier says, the line's own or that of all.")
    expected_on = models.DateField(null=True, help_text="The day that was expected when the order was sent.")

    unscoped = OrderLineQuerySet.as_manager()
    objects = ScopedManager.from_queryset(OrderLineQuerySet)()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["order", "offer"], name="orderline_once", violation_error_code="line_twice"),
            models.CheckConstraint(
                condition=Q(packs__gte=1) & Q(packs__lte=MOST_PACKS), name="orderline_packs", violation_error_code="packs"
            ),
            models.CheckConstraint(condition=Q(pack__gt=0), name="orderline_pack", violation_error_code="not_positive"),
            models.CheckConstraint(condition=Q(price__gte=0), name="orderline_price", violation_error_code="negative"),
        ]

    def __str__(self) -> str:
        return f"{self.material.name}, order {self.order.number}"


class OrderStep(ScopedLedger, Signed):
    """Something that was done with an order, by whom and when; ``day`` is the day on which it was sent or came in."""

    class Kind(models.TextChoices):
        WRITTEN = "written", "written"
        CHANGED = "changed", "changed"
        SENT = "sent", "sent"
        PROMISED = "promised", "another day was named"
        RECEIVED = "received", "something came in"
        CALLED_OFF = "called_off", "called off"
        GIVEN_BACK = "given_back", "a receipt was taken back"

    order = models.ForeignKey(Order, on_delete=models.PROTECT, related_name="steps")
    kind = models.CharField(max_length=10, choices=Kind.choices)
    day = models.DateField(null=True)
    said = models.TextField(blank=True, help_text="What was changed, or why.")
    at = models.DateTimeField()

    unscoped = OrderStepQuerySet.as_manager()
    objects = ScopedManager.from_queryset(OrderStepQuerySet)()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=~Q(kind__in=["sent", "received"]) | Q(day__isnull=False),
                name="orderstep_day",
                violation_error_code="missing",
            ),
            models.CheckConstraint(
                condition=~Q(kind__in=["called_off", "given_back"]) | ~Q(said=""),
                name="orderstep_why",
                violation_error_code="missing",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.day or ''}".strip()


class OrderLineStep(ScopedLedger):
    """Packs of a line that came, came damaged and were not taken, or will not come.

    What came has its lot, whatever its standing. ``takes_back`` leads to packs that never came: their
    lot's receipt was taken back.
    """

    class Kind(models.TextChoices):
        CAME = "came", "came in"
        DAMAGED = "damaged", "came damaged"
        ENDED = "ended", "will not come"

    step = models.ForeignKey(OrderStep, on_delete=models.PROTECT, related_name="lines")
    line = models.ForeignKey(OrderLine, on_delete=models.PROTECT, related_name="steps")
    kind = models.CharField(max_length=8, choices=Kind.choices)
    packs = models.PositiveIntegerField()
    lot = models.OneToOneField(Lot, on_delete=models.PROTECT, null=True, related_name="ordered")
    price = models.DecimalField(max_digits=12, decimal_places=4, null=True, help_text="What a pack really cost.")
    said = models.CharField(max_length=400, blank=True)
    takes_back = models.OneToOneField("self", on_delete=models.PROTECT, null=True, related_name="taken_back_by")

    unscoped = OrderLineStepQuerySet.as_manager()
    objects = ScopedManager.from_queryset(OrderLineStepQuerySet)()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(packs__gte=1) & Q(packs__lte=MOST_PACKS), name="orderlinestep_packs", violation_error_code="packs"
            ),
            models.CheckConstraint(
                condition=Q(takes_back__isnull=False, lot__isnull=True)
                | Q(kind="came", lot__isnull=False)
                | Q(kind="damaged")
                | Q(kind="ended", lot__isnull=True),
                name="orderlinestep_lot",
                violation_error_code="lot",
            ),
            models.CheckConstraint(
                condition=(Q(kind="came", takes_back__isnull=True)) | ~Q(said=""),
                name="orderlinestep_why",
                violation_error_code="missing",
            ),
            models.CheckConstraint(
                condition=Q(price__isnull=True) | Q(price__gte=0), name="orderlinestep_price", violation_error_code="negative"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.packs} {self.get_kind_display()}"
