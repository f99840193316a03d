"""What suppliers sell, and what they ask beside the goods."""

from decimal import Decimal
from typing import Any

from django.db.models import QuerySet
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.fields import AmountField, CountField, FigureField, FlagField, KeyField, TextField
from api.filtering import FlagFilter, KeyFilter
from api.suppliers import suppliers_shown
from api.views import Body, Change, Detail, Listing, WorkshopView
from curehouse.flows.take_off import change_offer, end_offer
from curehouse.workshops.roles import Right
from inventory.models import Material, Offer, OfferBreak, Supplier
from inventory.services.offers import OfferEntry, TermsEntry, write_offer, write_terms

_MONEY = ("freight", "free_freight_from", "hazard_surcharge")


class PriceField(FigureField):
    """The price of a pack, in the workshop's currency."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(max_digits=12, decimal_places=4, **kwargs)


class MoneyField(FigureField):
    """An amount in the workshop's currency."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(max_digits=12, decimal_places=2, **kwargs)


class BreakOut(serializers.ModelSerializer):
    """What a pack costs from so many packs on."""

    class Meta:
        model = OfferBreak
        fields = read_only_fields = ["from_packs", "price"]


class OfferOut(serializers.ModelSerializer):
    """What a supplier sells: a material in packs of grams or pieces. Other terms are a new offer that ``follows``."""

    supplier_name = serializers.CharField(source="supplier.name", read_only=True)
    material_name = serializers.CharField(source="material.name", read_only=True)
    measure = serializers.ChoiceField(source="material.measure", choices=Material.Measure.choices, read_only=True)
    price = serializers.DecimalField(
        max_digits=12, decimal_places=4, read_only=True, allow_null=True, help_text="Of one pack; null to who sees no costs."
    )  # fmt: skip
    breaks = BreakOut(many=True, read_only=True)
    signed_by = serializers.CharField(read_only=True)

    class Meta:
        model = Offer
        fields = read_only_fields = [
            "id", "supplier", "supplier_name", "material", "material_name", "measure", "article", "pack", "price", "breaks",
            "min_packs", "is_hazardous", "shelf_days", "lead_days", "follows", "ended_at", "signed_by", "written_at",
        ]  # fmt: skip

    def to_representation(self, instance: Offer) -> dict[str, Any]:
        """Return what is shown; prices are for whoever may know them."""
        shown = super().to_representation(instance)
        return shown if Right.SEE_COSTS in self.context["request"].rights else {**shown, "price": None, "breaks": []}


class BreakIn(Body):
    """What a pack costs from so many packs on."""

    from_packs = CountField()
    price = PriceField()


class OfferIn(Body):
    """What a supplier sells, to be written down."""

    supplier = KeyField()
    material = KeyField()
    pack = AmountField(help_text="Grams or pieces in a pack.")
    price = PriceField(help_text="Of one pack.")
    breaks = BreakIn(many=True, required=False, max_length=20)
    min_packs = CountField(required=False)
    article = TextField(max_length=200, required=False, allow_blank=True)
    is_hazardous = FlagField(required=False)
    shelf_days = CountField(required=False, allow_null=True, help_text="Days to its best-before as it usually comes in.")
    lead_days = CountField(required=False, allow_null=True, help_text="Days it takes, where it differs from their others.")


class OfferChangeIn(Change):
    """What is to be sold instead; what is left out stays as it is."""

    pack = AmountField(required=False)
    price = PriceField(required=False)
    breaks = BreakIn(many=True, required=False, max_length=20)
    min_packs = CountField(required=False)
    article = TextField(max_length=200, required=False, allow_blank=True)
    is_hazardous = FlagField(required=False)
    shelf_days = CountField(required=False, allow_null=True)
    lead_days = CountField(required=False, allow_null=True)


class OfferFilters(filters.FilterSet):
    """Which offers."""

    supplier = KeyFilter(field_name="supplier")
    material = KeyFilter(field_name="material")
    standing = FlagFilter(field_name="ended_at", lookup_expr="isnull", help_text="true: those that have not ended.")


def offers_shown(view: WorkshopView) -> QuerySet[Offer]:
    """Return the offers with all that is shown of them."""
    return Offer.objects.within(view.workshop).named().select_related("by_user", "by_device")


def _entry(sent: dict[str, Any]) -> dict[str, Any]:
    if "breaks" in sent:
        sent["breaks"] = [(one["from_packs"], one["price"]) for one in sent["breaks"]]
    return sent


class Offers(Listing):
    """What the workshop's suppliers sell."""

    reads = Right.SEE
    writes = Right.MAKE
    model = Offer
    serializer_class = OfferOut
    filterset_class = OfferFilters
    ordering_fields = ("written_at", "id")
    ordering = "id"
    rows = offers_shown

    @extend_schema(request=OfferIn, responses={201: OfferOut})
    def post(self, request: Request) -> Response:
        """Write down what a supplier sells; the same pack under the same article number stands once."""
        sent = _entry(self.body(OfferIn))
        materials, suppliers = Material.objects.within(self.workshop), Supplier.objects.within(self.workshop)
        sent["supplier"] = self.here(suppliers, sent["supplier"], what="supplier", field="supplier")
        sent["material"] = self.here(materials, sent["material"], what="material", field="material")
        return self.made(write_offer(actor=self.actor, entry=OfferEntry(**sent), at=self.at).pk)


class OneOffer(Detail):
    """An offer."""

    reads = Right.SEE
    writes = Right.MAKE
    model = Offer
    serializer_class = OfferOut
    rows = offers_shown
    field_names = {"offer": None}  # noqa: RUF012

    @extend_schema(request=OfferChangeIn, responses={200: OfferOut})
    def patch(self, request: Request, pk: int) -> Response:
        """End the offer and write what is sold instead, which is the answer; what was ordered stays as it was."""
        offer = self.here(Offer.objects.within(self.workshop).named(), pk, what="offer")
        now = {
            "supplier": offer.supplier, "material": offer.material, "pack": offer.pack, "price": offer.price,
            "breaks": [(one.from_packs, one.price) for one in offer.breaks.all()], "min_packs": offer.min_packs,
            "article": offer.article, "is_hazardous": offer.is_hazardous, "shelf_days": offer.shelf_days,
            "lead_days": offer.lead_days,
        }  # fmt: skip
        entry = OfferEntry(**{**now, **_entry(self.body(OfferChangeIn))})
        return Response(self.shown(change_offer(actor=self.actor, offer=offer, entry=entry, at=self.at).pk))


class EndOffer(Detail):
    """Ending an offer."""

    reads = Right.SEE
    writes = Right.MAKE
    model = Offer
    serializer_class = OfferOut
    rows = offers_shown
    http_method_names = ("post", "options")
    field_names = {"offer": None}  # noqa: RUF012

    @extend_schema(request=None, responses={200: OfferOut})
    def post(self, request: Request, pk: int) -> Response:
        """End an offer: it stays on record and is not ordered any more."""
        offer = self.here(Offer.objects.within(self.workshop), pk, what="offer")
        return Response(self.shown(end_offer(actor=self.actor, offer=offer, at=self.at).pk))


class TermsOut(serializers.ModelSerializer):
    """What a supplier asks beside the goods, and how many days they say it takes."""

    class Meta:
        model = Supplier
        fields = read_only_fields = ["id", *_MONEY, "lead_days"]

    def to_representation(self, instance: Supplier) -> dict[str, Any]:
        """Return what is shown; costs are for whoever may know them."""
        shown = super().to_representation(instance)
        hidden: dict[str, Decimal | None] = dict.fromkeys(_MONEY)
        return shown if Right.SEE_COSTS in self.context["request"].rights else {**shown, **hidden}


class TermsIn(Change):
    """What is to be changed of a supplier's terms; null: it is not known, or there is none."""

    freight = MoneyField(required=False, allow_null=True, help_text="What an order costs beside its goods.")
    free_freight_from = MoneyField(required=False, allow_null=True, help_text="Goods of so much come without freight.")
    hazard_surcharge = MoneyField(required=False, allow_null=True, help_text="Once an order with anything hazardous in it.")
    lead_days = CountField(required=False, allow_null=True)


class Terms(Detail):
    """A supplier's terms."""

    reads = Right.SEE
    writes = Right.MAKE
    model = Supplier
    serializer_class = TermsOut
    rows = suppliers_shown

    @extend_schema(request=TermsIn, responses={200: TermsOut})
    def patch(self, request: Request, pk: int) -> Response:
        """Change what a supplier asks beside the goods, for orders that are not sent yet."""
        supplier = self.here(suppliers_shown(self), pk, what="supplier")
        now = {name: getattr(supplier, name) for name in (*_MONEY, "lead_days")}
        terms = TermsEntry(**{**now, **self.body(TermsIn)})
        return Response(self.shown(write_terms(actor=self.actor, supplier=supplier, terms=terms).pk))
