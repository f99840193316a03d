"""Suppliers."""

from dataclasses import replace

from django.db.models import QuerySet
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.fields import TextField
from api.filtering import FlagFilter, TextFilter
from api.views import Body, Change, Detail, Listing, WorkshopView
from curehouse.flows.take_off import retire_supplier
from curehouse.workshops.roles import Right
from inventory.models import Supplier
from inventory.services.things import SupplierEntry, edit_supplier, take_up_supplier, write_supplier


class SupplierOut(serializers.ModelSerializer):
    """Who sells materials."""

    class Meta:
        model = Supplier
        fields = read_only_fields = ["id", "name", "contact", "note", "retired_at"]


class SupplierIn(Body):
    """A supplier to be written down."""

    name = TextField(max_length=200)
    contact = TextField(max_length=400, required=False, allow_blank=True)
    note = TextField(max_length=4000, required=False, allow_blank=True)


class SupplierChangeIn(Change):
    """What is to be changed about a supplier."""

    name = TextField(max_length=200, required=False)
    contact = TextField(max_length=400, required=False, allow_blank=True)
    note = TextField(max_length=4000, required=False, allow_blank=True)


class SupplierFilters(filters.FilterSet):
    """Which suppliers."""

    in_use = FlagFilter(field_name="retired_at", lookup_expr="isnull")
    name = TextFilter(field_name="name", lookup_expr="iexact")


def suppliers_shown(view: WorkshopView) -> QuerySet[Supplier]:
    """Return the suppliers."""
    return Supplier.objects.within(view.workshop)


class Suppliers(Listing):
    """The workshop's suppliers."""

    reads = Right.SEE
    writes = Right.MAKE
    model = Supplier
    serializer_class = SupplierOut
    filterset_class = SupplierFilters
    ordering_fields = ("name", "id")
    ordering = "name"
    rows = suppliers_shown

    @extend_schema(request=SupplierIn, responses={201: SupplierOut})
    def post(self, request: Request) -> Response:
        """Write a supplier down; a name is given once, however its letters are written."""
        return self.made(write_supplier(workshop=self.workshop, entry=SupplierEntry(**self.body(SupplierIn))).pk)


class OneSupplier(Detail):
    """A supplier."""

    reads = Right.SEE
    writes = Right.MAKE
    model = Supplier
    serializer_class = SupplierOut
    rows = suppliers_shown

    @extend_schema(request=SupplierChangeIn, responses={200: SupplierOut})
    def patch(self, request: Request, pk: int) -> Response:
        """Change a supplier."""
        supplier = self.here(suppliers_shown(self), pk, what="supplier")
        entry = SupplierEntry(supplier.name, supplier.contact, supplier.note)
        edit_supplier(supplier=supplier, entry=replace(entry, **self.body(SupplierChangeIn)))
        return Response(self.shown(pk))


class RetireSupplier(Detail):
    """Taking a supplier out of use."""

    reads = Right.SEE
    writes = Right.MAKE
    model = Supplier
    serializer_class = SupplierOut
    rows = suppliers_shown
    http_method_names = ("post", "options")

    @extend_schema(request=None, responses={200: SupplierOut})
    def post(self, request: Request, pk: int) -> Response:
        """Take a supplier out of use; their lots stay theirs."""
        retire_supplier(actor=self.actor, supplier=self.here(suppliers_shown(self), pk, what="supplier"), at=self.at)
        return Response(self.shown(pk))


class TakeUpSupplier(Detail):
    """Putting a supplier into use again."""

    reads = Right.SEE
    writes = Right.MAKE
    model = Supplier
    serializer_class = SupplierOut
    rows = suppliers_shown
    http_method_names = ("post", "options")

    @extend_schema(request=None, responses={200: SupplierOut})
    def post(self, request: Request, pk: int) -> Response:
        """Put a retired supplier into use again."""
        take_up_supplier(supplier=self.here(suppliers_shown(self), pk, what="supplier"))
        return Response(self.shown(pk))
