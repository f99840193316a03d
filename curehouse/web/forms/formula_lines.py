"""The lines of a formula as rows of a form: fats, liquids, acids, and whatever else goes in."""

from collections.abc import Iterable, Mapping, Sequence
from decimal import ROUND_DOWN, Decimal
from typing import Any

from django import forms

from curehouse.common.errors import DomainError
from curehouse.common.units import LARGEST_G, parse_mass_g
from curehouse.core.chemistry.acids import ACIDS
from curehouse.making.fats import fat_kinds
from curehouse.making.formulas.cleaning import MOST_LINES
from curehouse.making.formulas.entries import GoesIn, LineEntry, Per, Role
from curehouse.making.liquids import liquid_kinds
from curehouse.web.forms.fields import HouseForm, NumberField, TextField, exactly, trimmed
from curehouse.web.forms.formula_kept import BY_NAME, OF_CATALOGUE, OF_STOREROOM, kept_before, kept_beside
from curehouse.web.forms.thousands import reads_two_ways
from inventory.models import Material

# All that a formula may have (`making/formulas/cleaning.py`): no row is left out where one is changed.
MOST_ROWS = MOST_LINES
MOST_PLACES = 6
_PERCENT = {"above": Decimal(0), "most": Decimal(100), "places": 4, "required": False}
_OWN_NAME = "name"


def choice_error(what: str) -> dict[str, str]:
    """Return the error message of a choice that is not in its list."""
    return {"invalid_choice": f"{what} is not in the list: choose one."}


def what_choices(materials: Iterable[Material], kinds: Mapping[str, Any], own_name: str = "") -> list[tuple[str, Any]]:
    """Return what a line can be: nothing, what it is called, a material of the storeroom, or a row of the catalogue."""
    stored = [(f"{OF_STOREROOM}{one.pk}", one.name) for one in materials]
    listed = [(f"{OF_CATALOGUE}{key}", kind.name) for key, kind in kinds.items()]
    return [
        ("", "none"),
        *([(f"{BY_NAME}{own_name}", own_name)] if own_name else []),
        *([("From the storeroom", stored)] if stored else []),
        *([("From the list", listed)] if listed else []),
    ]


def two_ways(typed: str) -> str:
    """Return what to type in the place of a figure whose mark may be one of thousands."""
    few = typed.strip().replace(",", ".")
    return f"“{typed.strip()}” reads two ways: type {few.replace('.', '')}, or {one_way(few)}."


def one_way(text: str) -> str:
    """Return a figure so that its mark can be no mark of thousands: ``1.200`` as ``1.2``, ``1.234`` as ``1.2340``."""
    if not reads_two_ways(text):
        return text
    few = text.rstrip("0")
    return f"{few}0" if reads_two_ways(few) else few.rstrip(".")


class LineForm(HouseForm):
    """One line; a row that names nothing and has no amount is no line.

    What a line has besides, from the API or a file, goes along unseen (``kept``) while the row stays
    of the same thing: a change of an amount loses none of it.
    """

    role: str
    # What of a line the row shows.
    shows: frozenset[str] = frozenset()
    kept = forms.CharField(required=False, widget=forms.HiddenInput)
    what_label = "What"
    amount_label = "Amount"
    per_choices: Sequence[tuple[str, str]] = ()
    per_start = Per.GRAMS

    def __init__(
        self, *args: Any, unit: str, materials: Sequence[Material], all_materials: Sequence[Material] = (), **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.unit, self.materials = unit, {f"{OF_STOREROOM}{one.pk}": one for one in materials}
        self.all_materials = {one.pk: one for one in all_materials}
        own = self.fields
        self.fields = {
            "what": forms.ChoiceField(
                label=self.what_label,
                choices=what_choices(materials, self.kinds(), self._own_name()),
                required=False,
                error_messages=choice_error("This line"),
            ),
            "amount": NumberField(
                what="The amount",
                above=Decimal(0),
                most=LARGEST_G,
                places=MOST_PLACES,
                required=False,
                label=self.amount_label.format(unit=unit),
            ),
        }
        if self.per_choices:
            choices = [(value, words.format(unit=unit)) for value, words in self.per_choices]
            self.fields["per"] = forms.ChoiceField(
                label="in", choices=choices, required=False, initial=self.per_start, error_messages=choice_error("This")
            )
        self.fields |= own

    def _own_name(self) -> str:
        """Return what a line is called that is of nothing in the lists."""
        kept = kept_before(self["kept"].value() or "{}", self.all_materials) or {}
        name = kept.get("name", "")
        return name if kept.get("what") == f"{BY_NAME}{name}" else ""

    def kinds(self) -> Mapping[str, Any]:
        """Return the rows of the catalogue to choose from."""
        return {}

    def clean(self) -> dict[str, Any]:
        """Hold a name and an amount to coming together."""
        values = super().clean() or {}
        if values.get("what") and values.get("amount") is None and "amount" in values and values.get("per") != Per.REST:
            self.add_error("amount", "The amount is missing: type it, or choose “none”.")
        if values.get("kept") and self.names_something(values) and kept_before(values["kept"], self.all_materials) is None:
            self.add_error("what", "What was kept with this line cannot be read, or its material is out of use: type it anew.")
        if "what" in values and not self.names_something(values) and values.get("amount") is not None:
            self.add_error("what", "Say what this is: choose one, or empty its row.")
        typed = self["amount"].value() or ""
        if values.get("amount") is not None and reads_two_ways(typed):
            self.add_error("amount", two_ways(typed))
        return values

    def names_something(self, values: Mapping[str, Any]) -> bool:
        """Return whether the row says what it is of."""
        return bool(values.get("what"))

    def amount_as(self, per: str) -> Decimal | None:
        """Return the amount in grams, or as a share 0-1."""
        amount = self.cleaned_data.get("amount")
        if amount is None or per == Per.REST:
            return None
        if per != Per.GRAMS:
            return amount / 100
        try:
            return parse_mass_g(f"{amount:f}", self.unit, field="", what="The amount", rounding=ROUND_DOWN)
        except DomainError:
            return Decimal(0)

    def entry(self, per: str | None = None) -> LineEntry | None:
        """Return the line, or None for an empty row; *per* is that of all rows where they have none of their own."""
        values = self.cleaned_data
        if not self.names_something(values):
            return None
        what, how = values.get("what", ""), per or values.get("per") or self.per_start
        key = what.removeprefix(OF_CATALOGUE) if what.startswith(OF_CATALOGUE) else ""
        kept = kept_before(values.get("kept") or "{}", self.all_materials) or {}
        is_same = kept.pop("what", None) == what
        said = {"key": key, "material": self.materials.get(what), **self.more(values)}
        return LineEntry(
            role=values.get("role") or self.role,
            per=how,
            amount=self.amount_as(how),
            **{**said, **{name: value for name, value in kept.items() if not said.get(name)}} if is_same else said,
        )

    def more(self, values: Mapping[str, Any]) -> dict[str, Any]:
        """Return what else the line says."""
        return {}


class FatForm(LineForm):
    """A fat."""

    role = Role.FAT
    shows = frozenset({"saponification"})
    what_label = "Fat"
    amount_label = "Amount, {unit} or %"
    saponification = NumberField(
        what="The saponification value",
        above=Decimal(59),
        most=Decimal(400),
        # Rounded to the safe side where it is kept.
        places=6,
        required=False,
        label="Certified value",
    )

    def kinds(self) -> Mapping[str, Any]:
        return fat_kinds()

    def more(self, values: Mapping[str, Any]) -> dict[str, Any]:
        return {"saponification": values.get("saponification")}


class LiquidForm(LineForm):
    """A liquid, or a powder that makes one."""

    role = Role.LIQUID
    shows = frozenset({"water_fraction", "fat_fraction"})
    what_label = "Liquid"
    per_choices = (
        (Per.GRAMS, "{unit}"),
        (Per.FATS, "% of the fats"),
        (Per.LIQUID, "% of the liquid"),
        (Per.REST, "the rest"),
    )
    goes_in = forms.ChoiceField(
        label="Goes in",
        choices=[(GoesIn.FRONT, "with the lye"), (GoesIn.TRACE, "at trace")],
        required=False,
        initial=GoesIn.FRONT,
        error_messages=choice_error("This"),
    )
    fat_pct = NumberField(what="The fat", label="Its fat, % (if measured)", **{**_PERCENT, "above": Decimal("-0.01")})
    water_pct = NumberField(what="The water", label="Its water, % (if measured)", **{**_PERCENT, "above": Decimal("-0.01")})
    is_thickened = forms.ChoiceField(
        label="Thickeners",
        choices=[("", "not known"), ("no", "none"), ("yes", "has some")],
        required=False,
        error_messages=choice_error("This"),
    )

    def kinds(self) -> Mapping[str, Any]:
        return liquid_kinds()

    def more(self, values: Mapping[str, Any]) -> dict[str, Any]:
        fat, water = values.get("fat_pct"), values.get("water_pct")
        return {
            "goes_in": values.get("goes_in") or GoesIn.FRONT,
            "fat_fraction": None if fat is None else fat / 100,
            "water_fraction": None if water is None else water / 100,
            "is_thickened": {"yes": True, "no": False}.get(values.get("is_thickened", "")),
        }


_OF_FATS = ((Per.GRAMS, "{unit}"), (Per.FATS, "% of the fats"))


class AcidForm(LineForm):
    """An acid, which eats lye."""

    role = Role.ACID
    shows = frozenset({"form", "strength"})
    what_label = "Acid"
    per_choices = _OF_FATS
    form = forms.ChoiceField(
        label="Form",
        choices=[("", "not known"), *((one, one) for one in ("anhydrous", "monohydrate", "solution"))],
        required=False,
        error_messages=choice_error("This"),
    )
    strength_pct = NumberField(what="The strength", label="Strength, % (solutions)", **_PERCENT)

    def kinds(self) -> Mapping[str, Any]:
        return {key: _Named(f"{key} acid") for key in ACIDS}

    def more(self, values: Mapping[str, Any]) -> dict[str, Any]:
        strength = values.get("strength_pct")
        return {"form": values.get("form", ""), "strength": None if strength is None else strength / 100}


class _Named:
    def __init__(self, name: str) -> None:
        self.name = name


class ExtraForm(LineForm):
    """Fragrance, colour, or another addition; of the storeroom, or by its name."""

    role = Role.ADDITIVE
    shows = frozenset({"name", "most_share"})
    what_label = "From the storeroom"
    per_choices = _OF_FATS
    name = TextField(what="The name", longest=120, required=False, label="or its name")
    role_of = forms.ChoiceField(
        label="It is",
        choices=[(one, one.label) for one in (Role.ADDITIVE, Role.FRAGRANCE, Role.COLOUR)],
        required=False,
        initial=Role.ADDITIVE,
        error_messages=choice_error("This"),
    )
    most_pct = NumberField(what="The maximum", label="Maximum, % (fragrance)", **_PERCENT)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.order_fields(["what", _OWN_NAME, "role_of", "amount", "per", "most_pct"])

    def names_something(self, values: Mapping[str, Any]) -> bool:
        return bool(values.get("what") or values.get(_OWN_NAME))

    def clean(self) -> dict[str, Any]:
        values = super().clean()
        if values.get(_OWN_NAME) and values.get("amount") is None and "amount" in values and not values.get("what"):
            self.add_error("amount", "The amount is missing: type it, or empty the name.")
        return values | {"role": values.get("role_of") or Role.ADDITIVE}

    def more(self, values: Mapping[str, Any]) -> dict[str, Any]:
        most = values.get("most_pct")
        return {"name": values.get(_OWN_NAME, ""), "most_share": None if most is None else most / 100}


class LineRows(forms.BaseFormSet):
    """Rows of one kind together."""

    default_error_messages = {
        **forms.BaseFormSet.default_error_messages,
        "missing_management_form": "This page is incomplete: open it anew and type the lines again.",
    }

    def entries(self, per: str | None = None) -> list[LineEntry]:
        """Return the lines that are right."""
        lines = (row.entry(per) for row in self.forms if row.is_valid())
        return [line for line in lines if line is not None]


ROWS: dict[str, type[LineForm]] = {"fats": FatForm, "liquids": LiquidForm, "acids": AcidForm, "extras": ExtraForm}
PREFIX_OF = {
    Role.FAT: "fats", Role.LIQUID: "liquids", Role.ACID: "acids",
    Role.ADDITIVE: "extras", Role.FRAGRANCE: "extras", Role.COLOUR: "extras",
}  # fmt: skip
_KINDS = {
    "fats": ("fat",),
    "liquids": ("liquid",),
    "acids": (),
    "extras": ("additive", "fragrance", "colour"),
}


def rows_of(
    prefix: str,
    data: Mapping[str, Any] | None,
    *,
    unit: str,
    materials: Sequence[Material],
    start: list[dict[str, Any]],
    extra: int = 0,
) -> LineRows:
    """Return the rows called *prefix*: as sent in *data*, or as they begin, and so many *extra*."""
    rows = forms.formset_factory(
        ROWS[prefix], formset=LineRows, extra=extra, max_num=MOST_ROWS, absolute_max=MOST_ROWS, validate_max=False
    )
    fitting = [one for one in materials if one.kind in _KINDS[prefix]]
    initial = None if data is not None else start
    return rows(
        data, prefix=prefix, initial=initial, form_kwargs={"unit": unit, "materials": fitting, "all_materials": materials}
    )


def typed_rows(prefix: str, data: Mapping[str, str]) -> list[dict[str, str]]:
    """Return what was typed into the rows, unread, so that it can be shown again beside one more."""
    found: list[dict[str, str]] = []
    for number in range(MOST_ROWS):
        before = f"{prefix}-{number}-"
        typed = {name.removeprefix(before): value for name, value in data.items() if name.startswith(before)}
        if typed:
            found.append(typed)
    return found


def start_of(line: LineEntry, unit: str) -> dict[str, Any]:
    """Return how a line's row begins, from what is kept of it."""
    rows = ROWS[PREFIX_OF[Role(line.role)]]
    what = ""
    if line.material is not None and line.material.kind in _KINDS[PREFIX_OF[Role(line.role)]]:
        what = f"{OF_STOREROOM}{line.material.pk}"
    elif line.key and line.role in (Role.FAT, Role.LIQUID, Role.ACID):
        what = f"{OF_CATALOGUE}{line.key}"
    elif line.role in (Role.FAT, Role.LIQUID):
        what = f"{BY_NAME}{line.name}"
    return {
        "what": what,
        "kept": kept_beside(line, what, rows.shows),
        "amount": _shown(line, unit),
        "per": line.per,
        "goes_in": line.goes_in,
        "form": line.form,
        "saponification": line.saponification,
        "fat_pct": _percent(line.fat_fraction),
        "water_pct": _percent(line.water_fraction),
        "strength_pct": _percent(line.strength),
        "most_pct": _percent(line.most_share),
        "is_thickened": {True: "yes", False: "no", None: ""}[line.is_thickened],
        "name": "" if what else line.name,
        "role_of": line.role,
    }


def _percent(share: Decimal | None) -> str:
    return "" if share is None else trimmed(share * 100)


def _shown(line: LineEntry, unit: str) -> str:
    if line.amount is None:
        return ""
    if line.per == Per.GRAMS:
        return one_way(exactly(line.amount, unit, rounding=ROUND_DOWN))
    return one_way(f"{line.amount * 100:.4f}".rstrip("0").rstrip("."))
