"""Markets: days on which bars are wanted."""

from typing import Any

from django.db.models import QuerySet
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema
from rest_framework import serializers, status
from rest_framework.request import Request
from rest_framework.response import Response

from api.fields import DayField, TextField
from api.filtering import DayFilter, FlagFilter
from api.views import Body, Change, Detail, Listing
from curehouse.selling.models import Market
from curehouse.selling.services import add_market, call_off_market, change_market
from curehouse.workshops.roles import Right


class MarketOut(serializers.ModelSerializer):
    """A day on which bars are wanted."""

    signed_by = serializers.CharField(read_only=True)

    class Meta:
        model = Market
        fields = read_only_fields = ["id", "name", "held_on", "note", "called_off_at", "signed_by", "written_at"]


class MarketIn(Body):
    """A market to be written down."""

    name = TextField(max_length=200)
    held_on = DayField()
    note = TextField(max_length=400, required=False, default="", allow_blank=True)


class MarketChange(Change):
    """What changes of a market."""

    name = TextField(max_length=200, required=False)
    held_on = DayField(required=False)
    note = TextField(max_length=400, required=False, allow_blank=True)


class MarketFilters(filters.FilterSet):
    """Which markets."""

    is_held = FlagFilter(field_name="called_off_at", lookup_expr="isnull")
    from_day = DayFilter(field_name="held_on", lookup_expr="gte")
    to_day = DayFilter(field_name="held_on", lookup_expr="lte")


class Markets(Listing):
    """The markets."""

    reads = Right.SEE
    writes = Right.MAKE
    model = Market
    serializer_class = MarketOut
    filterset_class = MarketFilters
    ordering_fields = ("held_on", "id")
    ordering = "held_on"

    def rows(self) -> QuerySet[Market]:
        """Return the markets."""
        return Market.objects.within(self.workshop).select_related("by_user", "by_device")

    @extend_schema(request=MarketIn, responses={201: MarketOut})
    def post(self, request: Request) -> Response:
        """Write a market down."""
        row = add_market(actor=self.actor, at=self.at, **self.body(MarketIn))
        return self.made(row.pk)


class OneMarket(Detail):
    """A market."""

    reads = Right.SEE
    writes = Right.MAKE
    model = Market
    serializer_class = MarketOut
    rows = Markets.rows

    @extend_schema(request=MarketChange, responses={200: MarketOut})
    def patch(self, request: Request, pk: int) -> Response:
        """Put a market on another day, or call it otherwise."""
        row = self.here(Market.objects.within(self.workshop), pk, what="market")
        kept: dict[str, Any] = {"name": row.name, "held_on": row.held_on, "note": row.note}
        change_market(actor=self.actor, market=row, at=self.at, **{**kept, **self.body(MarketChange)})
        return Response(self.shown(pk))


class CallOffMarket(Detail):
    """Calling a market off."""

    reads = Right.SEE
    writes = Right.MAKE
    model = Market
    serializer_class = MarketOut
    rows = Markets.rows
    http_method_names = ("post", "options")

    @extend_schema(request=None, responses={200: MarketOut})
    def post(self, request: Request, pk: int) -> Response:
        """Say that a market is not held."""
        call_off_market(market=self.here(Market.objects.within(self.workshop), pk, what="market"), at=self.at)
        return Response(self.shown(pk), status=status.HTTP_200_OK)
