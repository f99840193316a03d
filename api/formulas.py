"""Formulas: listed, written down, changed, worked out in any size."""

from decimal import Decimal
from typing import Any

from django.db.models import QuerySet
from django_filters import rest_framework as filters
from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers, status
from rest_framework.request import Request
from rest_framework.response import Response

from api.fields import ChoiceField, CodesField, CountField, FigureField, FlagField, GramsField, KeyField, TextField
from api.filtering import FlagFilter, TextFilter
from api.views import Body, Detail, Listing, WorkshopView
from curehouse.flows.change_formula import change_formula
from curehouse.making.formulas.cleaning import MOST_LINES
from curehouse.making.formulas.entries import USUAL_FRONT_C, FormulaEntry, GoesIn, LineEntry, Per, Role
from curehouse.making.models import Formula, FormulaLine, FormulaVersion
from curehouse.making.services.formulas import retire_formula, take_up_formula, write_formula
from curehouse.workshops.models import Scale
from curehouse.workshops.roles import Right
from inventory.models import Material

# What the verbs call the lines of a role; in a request all of them are lines.
FIELD_NAMES: dict[str, str | None] = {"fats": "lines", "liquids": "lines", "acids": "lines", "extras": "lines"}


class FormulaOut(serializers.ModelSerializer):
    """A formula: its name, and which of its versions is in force."""

    newest_version = serializers.IntegerField(read_only=True, allow_null=True, help_text="The id of the version in force.")
    batch_count = serializers.IntegerField(read_only=True)

    class Meta:
        model = Formula
        fields = read_only_fields = ["id", "name", "min_days", "newest_version", "batch_count", "retired_at"]


class LineOut(serializers.ModelSerializer):
    """One thing that goes in."""

    goes_in = serializers.CharField(read_only=True, help_text="front or trace; empty for what is no liquid.")

    class Meta:
        model = FormulaLine
        fields = read_only_fields = [
            "role",
            "key",
            "material",
            "name",
            "per",
            "amount",
            "goes_in",
            "form",
            "strength",
            "saponification",
            "water_fraction",
            "fat_fraction",
            "most_share",
            "is_thickened",
        ]


class VersionOut(serializers.ModelSerializer):
    """A version of a formula, as it was written down; it never changes."""

    formula_name = serializers.CharField(source="formula.name", read_only=True)
    is_poured = serializers.BooleanField(read_only=True, help_text="A batch was poured from it.")
    is_in_force = serializers.BooleanField(read_only=True, help_text="It was not written anew before it was poured.")
    lines = serializers.SerializerMethodField()
    confirmed = serializers.ListField(child=serializers.CharField(), read_only=True)
    signed_by = serializers.CharField(read_only=True)

    class Meta:
        model = FormulaVersion
        fields = read_only_fields = [
            "id",
            "formula",
            "formula_name",
            "number",
            "revision",
            "is_in_force",
            "is_poured",
            "fats_g",
            "superfat",
            "naoh_share",
            "naoh_purity",
            "koh_purity",
            "naoh_from",
            "koh_from",
            "liquid_g",
            "liquid_share",
            "front_c",
            "scale",
            "fine_scale",
            "lines",
            "note",
            "confirmed",
            "signed_by",
            "written_at",
        ]

    @extend_schema_field(LineOut(many=True))
    def get_lines(self, version: FormulaVersion) -> list[dict[str, Any]]:
        """Return the lines in their order."""
        return LineOut(sorted(version.lines.all(), key=lambda line: line.place), many=True).data


def _share_field(**more: Any) -> FigureField:
    return FigureField(max_digits=5, decimal_places=4, **{"required": False, "allow_null": True, **more})


class LineIn(Body):
    """One thing that goes in: ``key`` of the catalogue, ``material`` of the storeroom, or a ``name``."""

    role = ChoiceField(choices=Role.choices)
    key = TextField(max_length=40, required=False, allow_blank=True)
    material = KeyField(required=False, allow_null=True)
    name = TextField(max_length=120, required=False, allow_blank=True)
    per = ChoiceField(choices=Per.choices, default=Per.GRAMS)
    amount = FigureField(
        max_digits=13,
        decimal_places=6,
        required=False,
        allow_null=True,
        help_text="Grams, or a share 0 to 1; none of the rest.",
    )
    goes_in = ChoiceField(choices=GoesIn.choices, required=False, help_text="Of a liquid.")
    form = TextField(max_length=20, required=False, allow_blank=True, help_text="Of an acid.")
    strength = _share_field(help_text="Of an acid that is dissolved.")
    saponification = FigureField(
        max_digits=6, decimal_places=2, required=False, allow_null=True, help_text="A certificate's, mg KOH per g."
    )
    water_fraction = _share_field(help_text="Measured.")
    fat_fraction = _share_field(help_text="Measured.")
    most_share = _share_field(help_text="A fragrance's maximum in the finished bar, by its supplier.")
    is_thickened = FlagField(required=False, allow_null=True, help_text="Of a plant milk.")


class VersionIn(Body):
    """A formula as it is to be. Shares are 0 to 1; the total liquid is grams, or a share of the fats."""

    name = TextField(max_length=120)
    lines = LineIn(many=True, max_length=MOST_LINES)
    superfat = _share_field(required=True, allow_null=False)
    liquid = FigureField(max_digits=10, decimal_places=4)
    liquid_per = ChoiceField(choices=[(Per.GRAMS, "grams"), (Per.FATS, "of the fats")], default=Per.GRAMS)
    fats_g = GramsField(required=False, allow_null=True, help_text="The size, where the fats are shares.")
    naoh_share = _share_field(allow_null=False, help_text="Of the equivalents, 1 unless said; the rest is KOH.")
    naoh_purity = _share_field()
    koh_purity = _share_field(help_text="Needed where there is KOH.")
    naoh_from = KeyField(required=False, allow_null=True, help_text="A material of kind lye: its lots say how pure it is.")
    koh_from = KeyField(required=False, allow_null=True)
    front_c = FigureField(max_digits=4, decimal_places=1, required=False, help_text="Of the liquid in front; 25 unless said.")
    scale = KeyField(required=False, allow_null=True, help_text="That of fats and liquid.")
    fine_scale = KeyField(required=False, allow_null=True, help_text="That of lye and acids.")
    note = TextField(max_length=4000, required=False, allow_blank=True)
    min_days = CountField(required=False, allow_null=True, help_text="The minimum cure, where it is the formula's own.")
    confirmed = CodesField(
        default=list,
        help_text="What a person has read, as `confirm` of the refusal named it, with the figure that stood there.",
    )


class ChangeIn(VersionIn):
    """A formula as it is to be from now on."""

    over = KeyField(required=False, allow_null=True, help_text="The id of the version that was changed.")


class FormulaFilters(filters.FilterSet):
    """Which formulas."""

    name = TextFilter(field_name="name", lookup_expr="iexact")
    in_use = FlagFilter(field_name="retired_at", lookup_expr="isnull", help_text="true: not taken out of use.")
    has_version = FlagFilter(field_name="newest_version", lookup_expr="isnull", exclude=True)


def formulas_shown(view: WorkshopView) -> QuerySet[Formula]:
    """Return the formulas with the version in force."""
    return Formula.objects.within(view.workshop).with_newest_version()


def versions_shown(view: WorkshopView) -> QuerySet[FormulaVersion]:
    """Return the versions with all that is shown of them."""
    rows = FormulaVersion.objects.within(view.workshop).with_batches().with_standing()
    return rows.select_related("formula", "by_user", "by_device").prefetch_related("lines")


def _here(view: WorkshopView, rows: QuerySet, key: int | None, *, what: str, field: str) -> Any:
    return None if key is None else view.here(rows, key, what=what, field=field)


def entry_sent(view: WorkshopView, sent: dict[str, Any], formula: Formula | None = None) -> FormulaEntry:
    """Return what was sent as the verbs take it, with its materials and scales at hand."""
    materials = {one.pk: one for one in Material.objects.within(view.workshop)}
    scales = Scale.objects.within(view.workshop)

    def material(key: int | None, field: str) -> Material | None:
        return _here(view, Material.objects.within(view.workshop), key, what="material", field=field)

    def line(one: dict[str, Any]) -> LineEntry:
        key = one.get("material")
        return LineEntry(**{**one, "material": materials[key] if key in materials else material(key, "lines")})

    kept = {name: sent[name] for name in ("name", "superfat", "liquid", "liquid_per", "confirmed")}
    more = {name: sent.get(name) for name in ("fats_g", "naoh_purity", "koh_purity")}
    return FormulaEntry(
        **kept,
        **more,
        naoh_share=sent.get("naoh_share", Decimal(1)),
        front_c=sent.get("front_c", USUAL_FRONT_C),
        lines=[line(one) for one in sent["lines"]],
        naoh_from=material(sent.get("naoh_from"), "naoh_from"),
        koh_from=material(sent.get("koh_from"), "koh_from"),
        scale=_here(view, scales, sent.get("scale"), what="scale", field="scale"),
        fine_scale=_here(view, scales, sent.get("fine_scale"), what="scale", field="fine_scale"),
        note=sent.get("note", ""),
        min_days=sent.get("min_days", formula.min_days if formula else None),
    )


class Formulas(Listing):
    """The workshop's formulas."""

    reads = Right.SEE
    writes = Right.MAKE
    model = Formula
    serializer_class = FormulaOut
    filterset_class = FormulaFilters
    ordering_fields = ("name", "id")
    ordering = "name"
    rows = formulas_shown
    field_names = FIELD_NAMES

    @extend_schema(request=VersionIn, responses={201: FormulaOut})
    def post(self, request: Request) -> Response:
        """Write a formula down with its first version.

        What must not be poured is answered with ``formula_refused`` (400) and its codes; what a
        person has to read first with ``formula_unconfirmed`` (409), until what its ``confirm``
        names comes in ``confirmed``: with the figure that was read, so that a worse one is asked about again.
        """
        version = write_formula(actor=self.actor, entry=entry_sent(self, self.body(VersionIn)), at=self.at)
        return self.made(version.formula_id)


class OneFormula(Detail):
    """A formula."""

    reads = Right.SEE
    model = Formula
    serializer_class = FormulaOut
    rows = formulas_shown


class RetireFormula(Detail):
    """Taking a formula out of use."""

    reads = Right.SEE
    writes = Right.MAKE
    model = Formula
    serializer_class = FormulaOut
    rows = formulas_shown
    http_method_names = ("post", "options")

    @extend_schema(request=None, responses={200: FormulaOut})
    def post(self, request: Request, pk: int) -> Response:
        """Take a formula out of use; its versions and what was poured from it stay."""
        retire_formula(formula=self.here(formulas_shown(self), pk, what="formula"), at=self.at)
        return Response(self.shown(pk))


class TakeUpFormula(Detail):
    """Putting a formula into use again."""

    reads = Right.SEE
    writes = Right.MAKE
    model = Formula
    serializer_class = FormulaOut
    rows = formulas_shown
    http_method_names = ("post", "options")

    @extend_schema(request=None, responses={200: FormulaOut})
    def post(self, request: Request, pk: int) -> Response:
        """Put a formula into use again."""
        take_up_formula(formula=self.here(formulas_shown(self), pk, what="formula"))
        return Response(self.shown(pk))


class Versions(Listing):
    """The versions of a formula, the newest first."""

    reads = Right.SEE
    writes = Right.MAKE
    model = FormulaVersion
    serializer_class = VersionOut
    ordering_fields = ("id",)
    ordering = "-id"
    field_names = FIELD_NAMES

    def rows(self) -> QuerySet[FormulaVersion]:
        """Return the formula's versions."""
        formula = self.here(Formula.objects.within(self.workshop), self.kwargs["pk"], what="formula")
        return versions_shown(self).filter(formula=formula)

    @extend_schema(request=ChangeIn, responses={201: VersionOut})
    def post(self, request: Request, pk: int) -> Response:
        """Change a formula: once it was poured under the next number, before under the same with the next revision."""
        formula = self.here(Formula.objects.within(self.workshop), pk, what="formula")
        sent = self.body(ChangeIn)
        entry = entry_sent(self, sent, formula)
        version = change_formula(actor=self.actor, formula=formula, entry=entry, over=sent.get("over"), at=self.at)
        return Response(self.shown(version.pk), status=status.HTTP_201_CREATED)


class OneVersion(Detail):
    """A version of a formula."""

    reads = Right.SEE
    model = FormulaVersion
    serializer_class = VersionOut
    rows = versions_shown
