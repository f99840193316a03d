"""Weighings: sent one by one, listed, kept, corrected, struck out."""

import uuid
from typing import Any

from django.db.models import QuerySet
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers, status
from rest_framework.request import Request
from rest_framework.response import Response

from api.fields import ChoiceField, ClientKeyField, FigureField, GramsField, KeyField, MomentField, TextField, TypedFigureField
from api.filtering import ChoiceFilter, ClientKeyFilter, KeyFilter, MomentFilter
from api.views import Body, Detail, Listing, WorkshopView
from curehouse.common.units import GRAM, parse_mass_g, parse_number
from curehouse.curing.models import Reading, SampleBar
from curehouse.curing.queries.weighing import ASKED, CORRECTED, COUNTS, STRUCK
from curehouse.curing.services.readings import ReadingEntry
from curehouse.flows.weigh import correct, keep, strike, weigh
from curehouse.workshops.models import Scale, Workshop
from curehouse.workshops.roles import Right

STANDINGS = [
    (COUNTS, "counts"),
    (ASKED, "asked about, counts in the verdict once it is kept or corrected"),
    (CORRECTED, "corrected by a later row"),
    (STRUCK, "struck out"),
]


class DoubtOut(serializers.Serializer):
    """What the house asks about a weight, and what it probably is."""

    kind = serializers.CharField()
    question = serializers.CharField()
    guess_g = serializers.DecimalField(max_digits=9, decimal_places=3, allow_null=True)
    expected_low_g = serializers.FloatField()
    expected_high_g = serializers.FloatField()
    tare = serializers.CharField(allow_null=True, help_text="What may have stood on the scale, by its name.")
    tare_g = serializers.DecimalField(max_digits=9, decimal_places=3, allow_null=True)


def doubt_of(reading: Reading) -> dict[str, Any] | None:
    """Return the doubt a reading raised as it came in, or None."""
    if not reading.doubt:
        return None
    guess_g = reading.doubt_guess_g
    detail = {
        name: reading.doubt_detail.get(name) for name in ("question", "expected_low_g", "expected_high_g", "tare", "tare_g")
    }
    return {"kind": reading.doubt, "guess_g": None if guess_g is None else f"{guess_g:.3f}", **detail}


class ReadingOut(serializers.ModelSerializer):
    """A weighing, and how it stands."""

    batch = serializers.IntegerField(source="bar.batch_id", read_only=True)
    letter = serializers.CharField(source="bar.letter", read_only=True)
    standing = serializers.ChoiceField(choices=STANDINGS, read_only=True)
    firmness = serializers.ChoiceField(choices=Reading.Firmness.choices, allow_blank=True, read_only=True)
    doubt = serializers.SerializerMethodField()
    signed_by = serializers.CharField(read_only=True)

    class Meta:
        model = Reading
        fields = read_only_fields = [
            "id",
            "client_id",
            "bar",
            "batch",
            "letter",
            "moment",
            "weight_g",
            "scale",
            "firmness",
            "dent_mm",
            "dent_tool",
            "corrects",
            "standing",
            "doubt",
            "source",
            "signed_by",
            "received_at",
        ]

    @extend_schema_field(DoubtOut(allow_null=True))
    def get_doubt(self, reading: Reading) -> dict[str, Any] | None:
        """Return what was asked."""
        return doubt_of(reading)


class WeightIn(Body):
    """A weight: ``weight_g`` in grams, or ``weight`` as typed (point or comma) in ``unit``."""

    client_id = ClientKeyField(default=None, help_text="Made by the device, once for each weighing.")
    moment = MomentField(help_text="When the bar stood on the scale.")
    weight_g = GramsField(max_digits=9, required=False)
    weight = TypedFigureField(required=False)
    unit = ChoiceField(choices=Workshop.Unit.choices, required=False)
    scale = KeyField(required=False, allow_null=True)
    firmness = ChoiceField(choices=Reading.Firmness.choices, required=False, allow_blank=True, default="")
    dent_mm = FigureField(max_digits=5, decimal_places=2, required=False, allow_null=True)
    dent_tool = TextField(max_length=80, required=False, allow_blank=True, default="")

    def validate_client_id(self, value: uuid.UUID | None) -> uuid.UUID:
        """Refuse a weighing without an id: sent twice, it would be two."""
        if value is None:
            raise serializers.ValidationError("Give every weighing an id of its own, a UUID made by the device.", "required")
        return value

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """Refuse a weight said twice, not at all, or without its unit."""
        if ("weight_g" in attrs) == ("weight" in attrs):
            raise serializers.ValidationError({"weight_g": "Send either weight_g, or weight with its unit."}, "one_weight")
        if ("weight" in attrs) != ("unit" in attrs):
            raise serializers.ValidationError({"unit": "Send unit (g or oz) with weight, and only with it."}, "unit")
        return attrs


class ReadingIn(WeightIn):
    """A weighing of a sample bar."""

    bar = KeyField()


class StrikeIn(Body):
    """Why a weighing is struck out."""

    reason = TextField(max_length=200)


def entry_of(sent: dict[str, Any], scale: Scale | None) -> ReadingEntry:
    """Return what was sent as the house takes it."""
    typed, unit, weight_g = "", GRAM, sent.get("weight_g")
    if weight_g is None:
        unit = sent["unit"]
        weight_g = parse_mass_g(sent["weight"], unit, field="weight", what="The weight")
        typed = f"{parse_number(sent['weight'], field='weight', what='The weight'):f}"
    return ReadingEntry(
        client_id=sent["client_id"],
        moment=sent["moment"],
        weight_g=weight_g,
        scale=scale,
        source=Reading.Source.API,
        firmness=sent["firmness"],
        dent_mm=sent.get("dent_mm"),
        dent_tool=sent["dent_tool"],
        typed=typed,
        unit=unit,
    )


class ReadingFilters(filters.FilterSet):
    """Which weighings."""

    bar = KeyFilter(field_name="bar")
    batch = KeyFilter(field_name="bar__batch")
    scale = KeyFilter(field_name="scale")
    standing = ChoiceFilter(choices=STANDINGS)
    moment_after = MomentFilter(field_name="moment", lookup_expr="gte")
    moment_before = MomentFilter(field_name="moment", lookup_expr="lt")
    client_id = ClientKeyFilter()


def readings_shown(view: WorkshopView) -> QuerySet[Reading]:
    """Return the weighings with all that is shown of them."""
    return Reading.objects.within(view.workshop).with_standing().select_related("bar", "by_user", "by_device")


class _Weighing(WorkshopView):
    """What sending a weight and sending its correction have in common."""

    reads = Right.SEE_ROUND
    writes = Right.WEIGH

    def entry(self, sent: dict[str, Any]) -> ReadingEntry:
        """Return the weighing that was sent, with its scale."""
        key = sent.get("scale")
        scales = Scale.objects.within(self.workshop)
        # The verb speaks of the weight; here it may have come in either of two fields.
        self.field_names = {"weight": "weight_g" if "weight_g" in sent else "weight"}
        return entry_of(sent, None if key is None else self.here(scales, key, what="scale", field="scale"))

    def answer(self, reading: Reading, *, is_new: bool) -> Response:
        """Return the weighing: 201 if it is new, 200 if it came in before."""
        return Response(self.shown(reading.pk), status=status.HTTP_201_CREATED if is_new else status.HTTP_200_OK)


class Readings(_Weighing, Listing):
    """The workshop's weighings."""

    reads = Right.SEE_ROUND
    writes = Right.WEIGH
    model = Reading
    serializer_class = ReadingOut
    filterset_class = ReadingFilters
    ordering_fields = ("moment", "weight_g", "received_at", "id")
    ordering = "-moment"
    rows = readings_shown

    @extend_schema(request=ReadingIn, responses={201: ReadingOut, 200: ReadingOut})
    def post(self, request: Request) -> Response:
        """Send a weighing; sent again under its id it is answered and not written twice.

        A doubtful weight is written too, and asked about in ``doubt``: until it is kept or
        corrected it counts in no verdict; the forecast hears it, and believes it less the further
        off it is.
        """
        sent = self.body(ReadingIn)
        bars = SampleBar.objects.within(self.workshop).select_related("batch__formula", "batch__workshop")
        bar = self.here(bars, sent["bar"], what="sample bar", field="bar")
        reading, is_new = weigh(actor=self.actor, bar=bar, entry=self.entry(sent), at=self.at)
        return self.answer(reading, is_new=is_new)


class OneReading(Detail):
    """A weighing."""

    reads = Right.SEE_ROUND
    model = Reading
    serializer_class = ReadingOut
    rows = readings_shown


class _Verb(_Weighing, Detail):
    """Something done about a weighing."""

    reads = Right.SEE_ROUND
    writes = Right.WEIGH
    model = Reading
    serializer_class = ReadingOut
    rows = readings_shown
    http_method_names = ("post", "options")

    def reading(self, key: int) -> Reading:
        """Return the weighing it is about."""
        rows = Reading.objects.within(self.workshop).select_related("bar__batch__formula", "bar__batch__workshop")
        return self.here(rows, key, what="reading")


class Keep(_Verb):
    """Keeping a doubtful weighing."""

    @extend_schema(request=None, responses={200: ReadingOut})
    def post(self, request: Request, pk: int) -> Response:
        """Keep a doubtful weighing as it is: from now on the verdict counts it."""
        keep(actor=self.actor, reading=self.reading(pk), at=self.at)
        return Response(self.shown(pk))


class Strike(_Verb):
    """Striking a weighing out."""

    @extend_schema(request=StrikeIn, responses={200: ReadingOut})
    def post(self, request: Request, pk: int) -> Response:
        """Strike a weighing out: it stays on record and counts no more."""
        reading = self.reading(pk)
        strike(actor=self.actor, reading=reading, reason=self.body(StrikeIn)["reason"], at=self.at)
        return Response(self.shown(pk))


class Correct(_Verb):
    """Correcting a weighing."""

    @extend_schema(request=WeightIn, responses={201: ReadingOut, 200: ReadingOut})
    def post(self, request: Request, pk: int) -> Response:
        """Send the weighing that stands in for this one; this one stays on record."""
        reading = self.reading(pk)
        row, is_new = correct(actor=self.actor, reading=reading, entry=self.entry(self.body(WeightIn)), at=self.at)
        return self.answer(row, is_new=is_new)
