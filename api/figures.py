"""A version of a formula worked out: what to weigh, what it will be, and what was found about it."""

from dataclasses import asdict
from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from api.fields import CountField, FigureField, GramsField
from api.formulas import versions_shown
from api.views import Body, Detail
from curehouse.common.errors import Invalid
from curehouse.common.units import SMALLEST_G
from curehouse.core.chemistry.alkali import Alkali
from curehouse.core.chemistry.fatty_acids import Group, grouped
from curehouse.core.chemistry.finding import Finding, Level
from curehouse.core.chemistry.findings import Judged
from curehouse.core.chemistry.formula import Figures
from curehouse.core.chemistry.words import CAUTIONS
from curehouse.making.formulas.adapter import Planned
from curehouse.making.formulas.costs import cost_of
from curehouse.making.formulas.counted import By, counted_of
from curehouse.making.formulas.entries import Role
from curehouse.making.formulas.reading import kept, version_here
from curehouse.making.formulas.settings import Setting, setting_wanted
from curehouse.making.formulas.sizes import Mould, Size, as_weighed, in_size
from curehouse.making.models import FormulaVersion
from curehouse.making.services.formulas import judged, plan, told_in, unread_values
from curehouse.workshops.roles import Right

_CM = {"max_digits": 6, "decimal_places": 2, "required": False}


class SizeQuery(Body):
    """In which size: by the fats, by a mould (a block or a tube), or by bars; without any, in its own."""

    fats_g = GramsField(required=False)
    length_cm = FigureField(**_CM)
    width_cm = FigureField(**_CM)
    diameter_cm = FigureField(**_CM)
    height_cm = FigureField(**_CM)
    moulds = CountField(required=False)
    bars = CountField(required=False)
    cut_g = GramsField(required=False)
    loss = FigureField(max_digits=5, decimal_places=4, required=False, help_text="The part that is trimmed off, 0 to 1.")
    effective = FigureField(
        max_digits=5,
        decimal_places=4,
        required=False,
        help_text="A superfat wanted with the milk's own fat, 0 to 1: `setting` of the answer brings it.",
    )


class RangeOut(serializers.Serializer):
    """A figure with the ends between which it may really lie."""

    low = serializers.FloatField()
    middle = serializers.FloatField()
    high = serializers.FloatField()


class LyeOut(serializers.Serializer):
    """What to weigh of one alkali, in whole steps of the scale and never more than the superfat asks for."""

    alkali = serializers.ChoiceField(choices=[(one.value, one.value) for one in Alkali])
    weigh_g = serializers.FloatField()
    exact_g = serializers.FloatField()
    purity = RangeOut()


class MassOut(serializers.Serializer):
    """What to weigh of one line."""

    role = serializers.ChoiceField(choices=Role.choices)
    name = serializers.CharField()
    goes_in = serializers.CharField(help_text="front or trace; empty for what is no liquid.")
    mass_g = serializers.DecimalField(max_digits=10, decimal_places=3)


class FindingOut(serializers.Serializer):
    """What was found: a code, how grave it is, in words what is so and what to do."""

    level = serializers.ChoiceField(choices=[(one.value, one.value) for one in Level])
    code = serializers.CharField()
    says = serializers.CharField()
    remedy = serializers.CharField()
    figures = serializers.DictField()
    needs_confirming = serializers.BooleanField()
    needs_check = serializers.BooleanField()


class CountedOut(serializers.Serializer):
    """The saponification value that counts for a fat, mg KOH per g, and by what."""

    name = serializers.CharField()
    value = RangeOut()
    by = serializers.ChoiceField(choices=[(one.value, one.value) for one in By])
    source = serializers.CharField(help_text="Of the published list; empty where something else says it.")
    how_sure = serializers.CharField(help_text="Whether the list's figure was read in its source, or is from memory.")
    has_open_lot = serializers.BooleanField(help_text="A part of it has no certificate: the range counts with it.")


class GroupOut(serializers.Serializer):
    """A physical group of fatty acids: short, long and saturated, with one double bond, with more."""

    group = serializers.ChoiceField(choices=[(one.value, one.value) for one in Group])
    share = serializers.FloatField()


class SmallestOut(serializers.Serializer):
    """From how much of the fats the scales can do it; ``safe_fats_g`` null: none can, that takes certificates."""

    safe_fats_g = serializers.FloatField(allow_null=True)
    steady_fats_g = serializers.FloatField()


class SummaryOut(serializers.Serializer):
    """What the whole comes to; shares are 0 to 1."""

    superfat = RangeOut(help_text="Over the fats alone.")
    effective_superfat = RangeOut(help_text="With the milk's own fat.")
    fats_g = serializers.FloatField()
    liquid_g = serializers.FloatField()
    liquid_share = serializers.FloatField(help_text="Of the fats.")
    front_g = serializers.FloatField()
    trace_g = serializers.FloatField()
    acids_water_g = serializers.FloatField(help_text="What the acids bring; part of liquid_g.")
    milk_share = serializers.FloatField(help_text="Of the liquid.")
    free_water_g = RangeOut(help_text="What must dry out.")
    water_share = RangeOut(help_text="Of the fresh bar.")
    batch_g = RangeOut()
    dry_g = RangeOut()
    smallest = SmallestOut()


class SettingOut(serializers.Serializer):
    """The superfat to set for one that is wanted with the milk's own fat; below 0 it must not be poured."""

    effective = serializers.FloatField()
    setting = serializers.FloatField()
    may_be_poured = serializers.BooleanField()
    finding = FindingOut(allow_null=True, help_text="What is found of its lye: that it may be caustic, or must not be poured.")


class CostOut(serializers.Serializer):
    """What goes in costs, by the lots that it takes, and whose cost is not known."""

    total = serializers.DecimalField(max_digits=12, decimal_places=2)
    currency = serializers.CharField()
    unknown = serializers.ListField(child=serializers.CharField())


class LotTakenOut(serializers.Serializer):
    """A lot whose figures count, and what would be taken of it: first expired, first out."""

    material = serializers.IntegerField()
    lot = serializers.IntegerField()
    mass_g = serializers.DecimalField(max_digits=10, decimal_places=3)


class FiguresOut(serializers.Serializer):
    """A version worked out; ``summary`` is null where no lye can be worked out."""

    setting = SettingOut(allow_null=True, help_text="Where `effective` was asked.")
    cost = CostOut(allow_null=True, help_text="Null for whoever may not see costs, and where none is known.")
    lots = LotTakenOut(many=True, help_text="Of several lots of lye the purest counts, of a fat the lowest value.")

    masses = MassOut(many=True)
    saponification = CountedOut(many=True)
    lye = LyeOut(many=True)
    summary = SummaryOut(allow_null=True)
    fatty_acids = GroupOut(many=True)
    findings = FindingOut(many=True)
    is_refused = serializers.BooleanField()
    unread = serializers.ListField(
        child=serializers.CharField(),
        help_text="Doubted values that nobody confirmed yet: no lye is shown until a version is written that confirms them.",
    )
    cautions = serializers.ListField(child=serializers.CharField())


class VersionFigures(Detail):
    """A version worked out."""

    reads = Right.SEE
    model = FormulaVersion
    serializer_class = FiguresOut
    rows = versions_shown

    @extend_schema(parameters=[SizeQuery], responses={200: FiguresOut})
    def get(self, request: Request, pk: int) -> Response:
        """Work it out with what the house knows of its materials today, in its own size or another; writes nothing."""
        version = version_here(self.workshop, pk)
        asked = SizeQuery().run_validation(request.query_params.dict())
        effective = asked.pop("effective", None)
        one = plan(workshop=self.workshop, entry=kept(version).entry, at=self.at)
        one = in_size(one, _size(asked)) if asked else as_weighed(one)
        found = judged(one)
        shown = _shown(one, found, self.workshop.unit)
        shown["setting"] = None if effective is None else _setting(setting_wanted(one, effective), self.workshop.unit)
        shown["cost"] = self._cost(one, found)
        return Response(FiguresOut(shown).data)

    def _cost(self, one: Planned, found: Judged) -> dict[str, Any] | None:
        cost = cost_of(one, found.figures) if Right.SEE_COSTS in self.request.rights else None
        return None if cost is None else {**asdict(cost), "currency": self.workshop.currency}


# Each of them says the size by itself; what belongs to a way says it is meant.
_WAYS = (
    ("fats_g",),
    ("height_cm", "length_cm", "width_cm", "moulds"),
    ("height_cm", "diameter_cm", "moulds"),
    ("bars", "cut_g", "loss"),
)


def _check_said_once(asked: dict[str, Any]) -> None:
    """Refuse a size that is said in two ways: one of them would be answered and the other unseen."""
    if any(asked.keys() <= set(way) for way in _WAYS):
        return
    first = next(name for way in _WAYS for name in way if name in asked)
    beside = [name for name in asked if not any({first, name} <= set(way) for way in _WAYS)]
    other = beside[0] if beside else "diameter_cm"
    named = first if beside else "length_cm" if "length_cm" in asked else "width_cm"
    raise Invalid("size_twice", f"The size is said twice, by {named} and by {other}: send one of them.", field=other)


def _size(asked: dict[str, Any]) -> Size:
    _check_said_once(asked)
    if "fats_g" in asked:
        return Size(fats_g=asked["fats_g"])
    if "height_cm" in asked:
        sides = {name: asked.get(name) for name in ("length_cm", "width_cm", "diameter_cm")}
        return Size(mould=Mould(height_cm=asked["height_cm"], count=asked.get("moulds", 1), **sides))
    if "bars" not in asked:
        raise Invalid("size", "Send fats_g, the measures of a mould with height_cm, or bars with cut_g.", field="fats_g")
    return Size(**{name: asked[name] for name in ("bars", "cut_g", "loss") if name in asked})


def _shown(one: Planned, found: Judged, unit: str) -> dict[str, Any]:
    figures, unread = found.figures, unread_values(found, one.entry.confirmed)
    return {
        "masses": [
            {"role": line.role, "name": line.name, "goes_in": line.goes_in, "mass_g": mass_g}
            for line, mass_g in zip(one.entry.lines, one.masses_g, strict=True)
        ],
        "saponification": [asdict(each) for each in counted_of(one)],
        # What must not be poured is not weighed out, nor by a value that nobody read yet.
        "lye": [] if figures is None or found.is_refused or unread else [asdict(amount) for amount in figures.lye],
        "summary": None if figures is None else _summary(figures),
        "lots": [
            {"material": pk, "lot": take.of.lot.pk, "mass_g": take.mass_g.quantize(SMALLEST_G)}
            for pk, takes in one.taken.items()
            for take in takes
        ],
        "fatty_acids": [asdict(share) for share in grouped(one.profiles).shares],
        "findings": [_finding(finding, unit) for finding in found.findings],
        "is_refused": found.is_refused,
        "unread": [finding.read_as for finding in unread],
        "cautions": CAUTIONS,
    }


def _setting(found: Setting, unit: str) -> dict[str, Any]:
    finding = None if found.finding is None else _finding(found.finding, unit)
    return {"effective": found.effective, "setting": found.setting, "may_be_poured": found.may_be_poured, "finding": finding}


def _summary(figures: Figures) -> dict[str, Any]:
    plain = ("fats_g", "liquid_g", "liquid_share", "front_g", "trace_g", "acids_water_g", "milk_share")
    ranges = ("free_water_g", "water_share", "batch_g", "dry_g", "smallest")
    return {
        "superfat": asdict(figures.superfat.of_fats),
        "effective_superfat": asdict(figures.superfat.effective),
        **{name: getattr(figures, name) for name in plain},
        **{name: asdict(getattr(figures, name)) for name in ranges},
    }


def _finding(finding: Finding, unit: str) -> dict[str, Any]:
    words = told_in(finding, unit)
    return {
        "level": finding.level.value,
        "code": finding.code,
        "says": words.says,
        "remedy": words.remedy,
        "figures": dict(finding.figures),
        "needs_confirming": finding.needs_confirming,
        "needs_check": finding.needs_check,
    }
