"""Orders: written, sent, named for another day, called off, received."""

from typing import Any

from django.db.models import Prefetch, QuerySet
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.fields import AmountField, ChoiceField, CountField, DayField, FlagField, KeyField, KeysField, TextField
from api.filtering import ChoiceFilter, DayFilter, FlagFilter, KeyFilter
from api.offers import PriceField
from api.views import Body, Detail, Listing, WorkshopView
from curehouse.common.errors import Invalid
from curehouse.common.time import local_day
from curehouse.flows.orders import call_off, promise, send_order
from curehouse.flows.receive_order import LineCame, LotCame, receive_order
from curehouse.workshops.roles import Right
from inventory.models import Lot, Material, Movement, Offer, Order, OrderLine, OrderLineStep, OrderStep, Supplier
from inventory.order_totals import totals_of
from inventory.services.orders import write_order

_COSTS = ("freight", "free_freight_from", "hazard_surcharge", "goods", "total")


class OrderLineOut(serializers.ModelSerializer):
    """So many packs of an offer, as it was then.

    ``expected_on`` follows from its day of sending and the days they say; a day they named is ``promised_on`` of the order.
    """

    material_name = serializers.CharField(source="material.name", read_only=True)
    measure = serializers.ChoiceField(source="material.measure", choices=Material.Measure.choices, read_only=True)
    price = serializers.DecimalField(max_digits=12, decimal_places=4, read_only=True, allow_null=True)
    came = serializers.IntegerField(read_only=True, help_text="Packs in stock.")
    damaged = serializers.IntegerField(read_only=True, help_text="Packs that came damaged and were not taken.")
    ended = serializers.IntegerField(read_only=True, help_text="Packs that will not come.")
    open_packs = serializers.IntegerField(read_only=True, help_text="Packs still to come.")

    class Meta:
        model = OrderLine
        fields = read_only_fields = [
            "id", "offer", "material", "material_name", "measure", "article", "packs", "pack", "price", "is_hazardous",
            "shelf_days", "expected_on", "came", "damaged", "ended", "open_packs",
        ]  # fmt: skip


class OrderOut(serializers.ModelSerializer):
    """An order with a supplier, under the house's own number; costs are null to whoever may not know them.

    ``freight`` and what stands beside it are as they were when the order was sent, null before.
    """

    name = serializers.CharField(source="__str__", read_only=True)
    supplier_name = serializers.CharField(source="supplier.name", read_only=True)
    lines = OrderLineOut(many=True, read_only=True)
    goods = serializers.SerializerMethodField(help_text="What its packs cost.")
    total = serializers.SerializerMethodField(help_text="With surcharge and freight.")
    signed_by = serializers.CharField(read_only=True)

    class Meta:
        model = Order
        fields = read_only_fields = [
            "id", "number", "name", "supplier", "supplier_name", "state", "note", "sent_on", "promised_on", "lines", "freight",
            "free_freight_from", "hazard_surcharge", "goods", "total", "signed_by", "written_at",
        ]  # fmt: skip

    def to_representation(self, instance: Order) -> dict[str, Any]:
        """Return what is shown; costs are for whoever may know them."""
        shown = super().to_representation(instance)
        if Right.SEE_COSTS in self.context["request"].rights:
            return shown
        lines = [{**line, "price": None} for line in shown["lines"]]
        return {**shown, **dict.fromkeys(_COSTS), "lines": lines}

    def _totals(self, order: Order) -> Any:
        return totals_of(order.lines.all(), order if order.sent_on else order.supplier)

    @extend_schema(responses=serializers.DecimalField(max_digits=14, decimal_places=2, allow_null=True))
    def get_goods(self, order: Order) -> str | None:
        """Return what the packs cost."""
        return str(self._totals(order).goods)

    def get_total(self, order: Order) -> str | None:
        """Return what the order comes to."""
        return str(self._totals(order).all)


class WantedIn(Body):
    """So many packs of an offer."""

    offer = KeyField()
    packs = CountField()


class OrderIn(Body):
    """An order to be written, or added to where one with this supplier is written and not sent."""

    supplier = KeyField()
    lines = WantedIn(many=True, max_length=200, help_text="So many packs from now on; 0: none.")
    note = TextField(max_length=4000, required=False, allow_blank=True)
    adds = FlagField(default=False, help_text="true: so many packs more.")


class SendIn(Body):
    """On which day an order was sent, and which day was named."""

    sent_on = DayField()
    promised_on = DayField(required=False, allow_null=True)


class PromiseIn(Body):
    """The day that the supplier names now; null: none any more."""

    promised_on = DayField(allow_null=True)
    why = TextField(max_length=400, required=False, allow_blank=True)


class CallOffOrderIn(Body):
    """What of an order will not come, and why; without ``lines`` all that is still to come."""

    why = TextField(max_length=400)
    lines = KeysField(required=False)


class LotCameIn(Body):
    """Packs of one lot; damaged packs that are kept wait in quarantine."""

    packs = CountField()
    amount = AmountField(required=False, allow_null=True, help_text="Grams or pieces, where it is not what the packs hold.")
    supplier_lot = TextField(max_length=200, required=False, allow_blank=True)
    best_before = DayField(required=False, allow_null=True)
    standing = ChoiceField(choices=Lot.Standing.choices, required=False)
    why = TextField(max_length=400, required=False, allow_blank=True)
    is_damaged = FlagField(required=False)


class LineCameIn(Body):
    """What came of a line."""

    line = KeyField()
    lots = LotCameIn(many=True, required=False, max_length=50)
    refused_packs = CountField(required=False, help_text="Damaged packs that were not taken.")
    refused_why = TextField(max_length=400, required=False, allow_blank=True)
    price = PriceField(required=False, allow_null=True, help_text="What a pack cost; as ordered unless said.")
    ends_rest = FlagField(required=False, help_text="What did not come will not come.")
    rest_why = TextField(max_length=400, required=False, allow_blank=True)
    changes_offer = FlagField(required=False, help_text="The offer costs from now on what was paid.")


class OrderReceiptIn(Body):
    """What came in of an order on a day."""

    received_on = DayField()
    lines = LineCameIn(many=True, max_length=200)


class OrderFilters(filters.FilterSet):
    """Which orders."""

    supplier = KeyFilter(field_name="supplier")
    state = ChoiceFilter(choices=Order.State.choices)
    sent_from = DayFilter(field_name="sent_on", lookup_expr="gte")
    on_the_way = FlagFilter(method="still_to_come", help_text="true: of which something is still to come.")

    def still_to_come(self, rows: QuerySet[Order], name: str, value: bool) -> QuerySet[Order]:  # noqa: FBT001
        """Return the orders on the way, or the others."""
        states = (Order.State.SENT, Order.State.PARTLY_IN)
        return rows.filter(state__in=states) if value else rows.exclude(state__in=states)


def orders_shown(view: WorkshopView) -> QuerySet[Order]:
    """Return the orders with all that is shown of them."""
    lines = OrderLine.objects.within(view.workshop).with_packs().select_related("material").in_order()
    shown = Order.objects.within(view.workshop).named().select_related("by_user", "by_device")
    return shown.prefetch_related(Prefetch("lines", lines))


class Orders(Listing):
    """The workshop's orders."""

    reads = Right.SEE
    writes = Right.MAKE
    model = Order
    serializer_class = OrderOut
    filterset_class = OrderFilters
    ordering_fields = ("number", "written_at", "id")
    ordering = "-number"
    rows = orders_shown

    @extend_schema(request=OrderIn, responses={201: OrderOut})
    def post(self, request: Request) -> Response:
        """Write an order, or change the one with this supplier that is not sent; offers not named stay as they are."""
        sent = self.body(OrderIn)
        suppliers = Supplier.objects.within(self.workshop)
        supplier = self.here(suppliers, sent["supplier"], what="supplier", field="supplier")
        offers = Offer.objects.within(self.workshop)
        packs: dict[int, int] = {}
        for one in sent["lines"]:
            offer = self.here(offers, one["offer"], what="offer", field="lines")
            if offer.pk in packs:
                raise Invalid("offer_twice", "An offer is named twice: put its packs together.", field="lines", offer=offer.pk)
            packs[offer.pk] = one["packs"]
        order = write_order(
            actor=self.actor, supplier=supplier, packs=packs, at=self.at, note=sent.get("note"), adds=sent["adds"]
        )  # fmt: skip
        return self.made(order.pk)


class OneOrder(Detail):
    """An order."""

    reads = Right.SEE
    model = Order
    serializer_class = OrderOut
    rows = orders_shown


class _OnOrder(Detail):
    """What is done with an order; what is seen of it is the order."""

    reads = Right.SEE
    writes = Right.MAKE
    model = Order
    serializer_class = OrderOut
    rows = orders_shown
    http_method_names = ("post", "options")
    field_names: dict[str, str | None] = {"order": None}  # noqa: RUF012

    def common(self) -> dict[str, Any]:
        """Return what every verb is told."""
        order = self.here(Order.objects.within(self.workshop).named(), self.kwargs["pk"], what="order")
        return {"actor": self.actor, "order": order, "at": self.at}


class SendOrder(_OnOrder):
    """Saying that an order was sent."""

    @extend_schema(request=SendIn, responses={200: OrderOut})
    def post(self, request: Request, pk: int) -> Response:
        """Note on which day an order was sent; what it holds stays as it was then."""
        common = self.common()
        return Response(self.shown(send_order(**common, **self.body(SendIn)).pk))


class PromiseOrder(_OnOrder):
    """The day that a supplier names."""

    @extend_schema(request=PromiseIn, responses={200: OrderOut})
    def post(self, request: Request, pk: int) -> Response:
        """Note the day that the supplier names now for what is still to come."""
        common = self.common()
        return Response(self.shown(promise(**common, **self.body(PromiseIn)).pk))


class CallOffOrder(_OnOrder):
    """Calling an order off."""

    @extend_schema(request=CallOffOrderIn, responses={200: OrderOut})
    def post(self, request: Request, pk: int) -> Response:
        """Call off an order, or what is still to come of it or of some of its lines."""
        common = self.common()
        return Response(self.shown(call_off(**common, **self.body(CallOffOrderIn)).pk))


class ReceiveOrder(_OnOrder):
    """Receiving of an order."""

    @extend_schema(request=OrderReceiptIn, responses={200: OrderOut})
    def post(self, request: Request, pk: int) -> Response:
        """Book what came in: lots, damaged packs, what was paid, what will not come; all of it, or nothing.

        More than was ordered is booked all the same. What is wrong with a line names it in ``data`` (``line``, and
        ``lot``, counted from 0).
        """
        common, sent = self.common(), self.body(OrderReceiptIn)
        came = [
            LineCame(**{**line, "lots": [LotCame(**one) for one in line.get("lots", ())]}) for line in sent["lines"]
        ]  # fmt: skip
        received = receive_order(**common, received_on=sent["received_on"], came=came, source=Movement.Source.API)
        return Response(self.shown(received.order.pk))


class ArrivalOut(serializers.Serializer):
    """What is still to come of a line: the likely day has even odds, the safe one 95 of 100."""

    id = serializers.IntegerField(source="line.pk", help_text="Of the line.")
    order = serializers.IntegerField(source="line.order_id")
    order_name = serializers.CharField(source="line.order.__str__")
    material = serializers.IntegerField(source="line.material_id")
    material_name = serializers.CharField(source="line.material.name")
    packs = serializers.IntegerField()
    amount = serializers.DecimalField(max_digits=15, decimal_places=3, help_text="Grams or pieces.")
    expected_on = serializers.DateField(allow_null=True, help_text="As it was reckoned when it was sent, or as they named.")
    likely_on = serializers.DateField(allow_null=True)
    safe_on = serializers.DateField(allow_null=True)
    best_before = serializers.DateField(allow_null=True, help_text="If it comes on the likely day.")
    is_late = serializers.BooleanField(help_text="Past the day they named or, without one, later than 4 of 5 come.")


class Arrivals(WorkshopView):
    """What is on its way."""

    reads = Right.SEE
    model = OrderLine
    serializer_class = ArrivalOut
    pagination_class = None
    filter_backends = ()

    @extend_schema(responses={200: ArrivalOut(many=True)})
    def get(self, request: Request) -> Response:
        """Tell what is still to come of all orders, the likeliest first; those without a day last."""
        today = local_day(self.at, self.workshop.time_zone)
        arrivals = OrderLine.objects.within(self.workshop).arrivals(on=today)
        return Response(ArrivalOut(arrivals, many=True).data)


class StepLineOut(serializers.ModelSerializer):
    """Packs that came, came damaged, or will not come; ``takes_back``: they never came."""

    class Meta:
        model = OrderLineStep
        fields = read_only_fields = ["line", "kind", "packs", "lot", "price", "said", "takes_back"]


class StepOut(serializers.ModelSerializer):
    """Something that was done with an order."""

    lines = StepLineOut(many=True, read_only=True)
    signed_by = serializers.CharField(read_only=True)

    class Meta:
        model = OrderStep
        fields = read_only_fields = ["id", "order", "kind", "day", "said", "lines", "at", "signed_by"]

    def to_representation(self, instance: OrderStep) -> dict[str, Any]:
        """Return what is shown; what was paid is for whoever may know it."""
        shown = super().to_representation(instance)
        if Right.SEE_COSTS in self.context["request"].rights:
            return shown
        return {**shown, "lines": [{**line, "price": None} for line in shown["lines"]]}


class Steps(Listing):
    """What was done with one order."""

    reads = Right.SEE
    model = OrderStep
    serializer_class = StepOut
    ordering_fields = ("at", "id")
    ordering = "id"

    def rows(self) -> QuerySet[OrderStep]:
        """Return the order's steps with what became of its packs."""
        order = self.here(Order.objects.within(self.workshop), self.kwargs["pk"], what="order")
        steps = OrderStep.objects.within(self.workshop).filter(order=order)
        return steps.select_related("by_user", "by_device").prefetch_related("lines")
