"""Writing a formula down, and changing one."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import ROUND_DOWN, Decimal
from typing import Any

from django import forms

from curehouse.common.units import LARGEST_G, to_grams
from curehouse.making.formulas.entries import FormulaEntry, GoesIn, Per, Role
from curehouse.web.forms.fields import HouseForm, MassField, NameField, NumberField, TextField, WholeField, exactly, trimmed
from curehouse.web.forms.formula_lines import (
    MOST_PLACES,
    ROWS,
    LineRows,
    choice_error,
    one_way,
    rows_of,
    start_of,
    two_ways,
    typed_rows,
)
from curehouse.web.forms.thousands import reads_two_ways
from curehouse.workshops.models import Scale, Workshop
from inventory.models import Material

_PERCENT = {"above": Decimal("-0.01"), "most": Decimal(100), "places": 2}
# What lye is weighed by is rounded to the safe side (`making/formulas/cleaning.py`), so it is not rounded before.
_UNROUNDED = {**_PERCENT, "places": 6}
# A new formula begins as common practice has it: a third of the fats, half of the liquid in front.
_FIRST = {"superfat_pct": "5", "liquid": "33", "liquid_per": Per.FATS, "lye": "naoh", "fats_per": Per.GRAMS, "front_c": "25"}
_FIRST_ROWS: dict[str, list[dict[str, Any]]] = {
    "fats": [{}, {}, {}],
    "liquids": [
        {"what": "k:water", "per": Per.LIQUID, "amount": "50", "goes_in": GoesIn.FRONT},
        {"per": Per.REST, "goes_in": GoesIn.TRACE},
    ],
    "acids": [],
    "extras": [{}],
}


@dataclass(frozen=True, slots=True)
class Bench:
    """What a formula can be made of and weighed on."""

    workshop: Workshop
    materials: Sequence[Material] = ()
    scales: Sequence[Scale] = ()


@dataclass(frozen=True, slots=True)
class Begin:
    """How a form begins: its own fields, and its rows by their prefixes; so many more of one."""

    fields: Mapping[str, Any] = field(default_factory=lambda: dict(_FIRST))
    rows: Mapping[str, list[dict[str, Any]]] = field(default_factory=lambda: dict(_FIRST_ROWS))
    more_of: str = ""


class FormulaFields(HouseForm):
    """What is asked of a formula besides its lines: its name, how its lye is set, its liquid, its cure."""

    name = NameField(what="The formula's name", label="Name")
    fats_per = forms.ChoiceField(
        label="The fats are written in",
        choices=[(Per.GRAMS, "their masses"), (Per.FATS, "% of all fats")],
        widget=forms.RadioSelect,
        error_messages=choice_error("This"),
    )
    superfat_pct = NumberField(
        what="The superfat",
        label="Superfat, %",
        help_text="The part of the lye that is left out. 5 is usual; 2 only where the milk’s fat brings it back to 5.",
        # Below 0 it is refused with what is wrong about it, not as a figure out of bounds.
        **_UNROUNDED | {"above": Decimal(-100)},
    )
    lye = forms.ChoiceField(
        label="Lye",
        choices=[("naoh", "sodium hydroxide (NaOH)"), ("koh", "potassium hydroxide (KOH)"), ("both", "both")],
        widget=forms.RadioSelect,
        error_messages=choice_error("This lye"),
    )
    naoh_share_pct = NumberField(
        what="The share of sodium hydroxide",
        label="NaOH, % of both",
        help_text="Counted in equivalents, not in grams.",
        required=False,
        **_PERCENT,
    )
    naoh_purity_pct = NumberField(
        what="The purity of the NaOH",
        label="Purity of the NaOH, %",
        help_text="From its certificate; without one it counts as pure.",
        required=False,
        **_UNROUNDED | {"most": Decimal("100.5")},
    )
    koh_purity_pct = NumberField(
        what="The purity of the KOH",
        label="Purity of the KOH, %",
        help_text="From its certificate; without one nothing can be worked out.",
        required=False,
        **_UNROUNDED | {"most": Decimal("100.5")},
    )
    liquid = NumberField(
        what="The total liquid",
        above=Decimal(0),
        most=LARGEST_G,
        places=MOST_PLACES,
        label="Total liquid",
        help_text="All of it, milk too.",
    )
    front_c = NumberField(
        what="The temperature",
        above=Decimal("-5.1"),
        most=Decimal(100),
        places=1,
        label="The liquid in front has, °C",
        help_text="While it holds the lye. Lye in frozen milk: the 24 to 27 °C it is held at.",
    )
    min_days = WholeField(
        what="The minimum cure",
        least=1,
        most=730,
        required=False,
        label="Minimum cure, days",
        help_text="Empty: the workshop’s own. It counts from the next verdict on, for all of its batches.",
    )
    note = TextField(what="The note", longest=4000, required=False, widget=forms.Textarea(attrs={"rows": 3}))
    # What somebody said they read, a line each, with the figures that stood there; what is worse by now is asked about again.
    has_read = forms.CharField(required=False, widget=forms.HiddenInput)
    over = forms.CharField(required=False, widget=forms.HiddenInput)


class FormulaForm(FormulaFields):
    """A formula with its lines."""

    def __init__(self, data: Mapping[str, Any] | None = None, *, bench: Bench, begin: Begin | None = None) -> None:
        begin = begin or Begin()
        super().__init__(data, initial=dict(begin.fields))
        self.bench, unit = bench, bench.workshop.unit
        lyes = [("", "not from the storeroom"), *((str(one.pk), one.name) for one in bench.materials if one.kind == "lye")]
        scales = [("", "any in use"), *((str(one.pk), one.name) for one in bench.scales)]
        self.fields |= {
            "fats_g": MassField(
                unit=unit,
                what="The mass of all fats",
                rounding=ROUND_DOWN,
                required=False,
                label=f"All fats together, {unit}",
                help_text="Only with %.",
            ),
            "liquid_per": forms.ChoiceField(
                label="in", choices=[(Per.FATS, "% of the fats"), (Per.GRAMS, unit)], error_messages=choice_error("This")
            ),
            "naoh_from": _chosen("NaOH from", lyes),
            "koh_from": _chosen("KOH from", lyes),
            "scale": _chosen("Scale for fats and liquid", scales),
            "fine_scale": _chosen("Scale for lye and acids", scales),
        }
        self.lines: dict[str, LineRows] = {
            prefix: rows_of(
                prefix,
                data,
                unit=unit,
                materials=bench.materials,
                start=list(begin.rows.get(prefix, [])),
                extra=1 if begin.more_of == prefix else 0,
            )
            for prefix in ROWS
        }

    def is_valid(self) -> bool:
        """Return whether the formula and every row of its lines are right."""
        own = super().is_valid()
        rows = [rows.is_valid() for rows in self.lines.values()]
        if self.is_bound and not all(rows) and not self.non_field_errors():
            self.add_error(None, "A line needs another look: what to do stands in its row.")
        return own and all(rows)

    def clean(self) -> dict[str, Any]:
        """Ask for what belongs to a choice."""
        values = super().clean() or {}
        if values.get("lye") == "both" and values.get("naoh_share_pct") is None and "naoh_share_pct" in values:
            self.add_error("naoh_share_pct", "With both lyes say how much of them is NaOH: type its share in %.")
        for name in ("fats_g", "liquid"):
            typed = self[name].value() or ""
            if values.get(name) is not None and reads_two_ways(typed):
                self.add_error(name, two_ways(typed))
        return values

    def entry(self) -> FormulaEntry:
        """Return the formula as the service takes it."""
        values = self.cleaned_data
        share = {"naoh": Decimal(1), "koh": Decimal(0)}.get(values["lye"])
        in_grams = values["liquid_per"] == Per.GRAMS
        unit = self.bench.workshop.unit
        return FormulaEntry(
            name=values["name"],
            lines=[
                *self.lines["fats"].entries(values["fats_per"]),
                *(line for prefix in ("liquids", "acids", "extras") for line in self.lines[prefix].entries()),
            ],
            superfat=values["superfat_pct"] / 100,
            liquid=to_grams(values["liquid"], unit) if in_grams else values["liquid"] / 100,
            liquid_per=values["liquid_per"],
            fats_g=values["fats_g"] if values["fats_per"] == Per.FATS else None,
            naoh_share=values["naoh_share_pct"] / 100 if share is None else share,
            naoh_purity=_share(values["naoh_purity_pct"]),
            koh_purity=_share(values["koh_purity_pct"]),
            naoh_from=_of(self.bench.materials, values["naoh_from"]),
            koh_from=_of(self.bench.materials, values["koh_from"]),
            front_c=values["front_c"],
            scale=_of(self.bench.scales, values["scale"]),
            fine_scale=_of(self.bench.scales, values["fine_scale"]),
            note=values["note"],
            min_days=values["min_days"],
            confirmed=values["has_read"].splitlines(),
        )

    @property
    def has_read_now(self) -> str:
        """Return what is read when the question stands on the page."""
        return "\n".join(self.refusal.data["confirm"]) if self.refusal is not None else ""

    @property
    def over_key(self) -> int | None:
        """Return the key of the version that was changed."""
        over = self.cleaned_data["over"]
        return int(over) if over.isascii() and over.isdecimal() and len(over) < 19 else None


def _chosen(label: str, choices: list[tuple[str, str]]) -> forms.ChoiceField:
    return forms.ChoiceField(label=label, choices=choices, required=False, error_messages=choice_error("This"))


def _of(rows: Sequence[Any], key: str) -> Any:
    return next((row for row in rows if str(row.pk) == key), None)


def _share(percent: Decimal | None) -> Decimal | None:
    return None if percent is None else percent / 100


def begin_again(data: Mapping[str, Any], more_of: str) -> Begin:
    """Return what was typed so far, unread, and room for another line."""
    return Begin(dict(data.items()), {prefix: typed_rows(prefix, data) for prefix in ROWS}, more_of)


def begin_like(entry: FormulaEntry, *, unit: str, over: int | None = None) -> Begin:
    """Return the form of a formula that is kept: to be changed, or to begin another like it."""
    in_grams = entry.liquid_per == Per.GRAMS
    lye = {Decimal(1): "naoh", Decimal(0): "koh"}.get(entry.naoh_share, "both")
    fields = {
        "name": entry.name,
        "fats_per": entry.of(Role.FAT)[0].per,
        "fats_g": "" if entry.fats_g is None else one_way(exactly(entry.fats_g, unit, rounding=ROUND_DOWN)),
        "superfat_pct": trimmed(entry.superfat * 100),
        "lye": lye,
        "naoh_share_pct": trimmed(entry.naoh_share * 100) if lye == "both" else "",
        "naoh_purity_pct": "" if entry.naoh_purity is None else trimmed(entry.naoh_purity * 100),
        "koh_purity_pct": "" if entry.koh_purity is None else trimmed(entry.koh_purity * 100),
        "naoh_from": entry.naoh_from.pk if entry.naoh_from else "",
        "koh_from": entry.koh_from.pk if entry.koh_from else "",
        "liquid": one_way(exactly(entry.liquid, unit) if in_grams else trimmed(entry.liquid * 100)),
        "liquid_per": entry.liquid_per,
        "front_c": trimmed(entry.front_c),
        "scale": entry.scale.pk if entry.scale else "",
        "fine_scale": entry.fine_scale.pk if entry.fine_scale else "",
        "note": entry.note,
        "min_days": entry.min_days or "",
        "over": over or "",
    }
    of = {"fats": (Role.FAT,), "liquids": (Role.LIQUID,), "acids": (Role.ACID,)}
    of["extras"] = (Role.ADDITIVE, Role.FRAGRANCE, Role.COLOUR)
    rows = {prefix: [start_of(line, unit) for role in roles for line in entry.of(role)] for prefix, roles in of.items()}
    return Begin(fields, rows)
