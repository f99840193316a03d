"""The forms of what is made from others: its recipe, and a making of it."""

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django import forms
from django.http import QueryDict

from curehouse.common.units import LARGEST_G
from curehouse.web.access import Visit
from curehouse.web.forms.amounts import DayField, ReasonField
from curehouse.web.forms.as_shown import LOT, UNKEPT, lots_gone, sent_by, why_gone
from curehouse.web.forms.fields import HouseForm, MassField, MomentField, NameField, NumberField, WholeField, exactly, required
from curehouse.web.reading.amounts import held_words
from curehouse.web.reading.days import Calendar
from curehouse.web.reading.storeroom import best_before_words
from inventory.blends import Recipe
from inventory.models import Lot, Material
from inventory.services.blends import MOST_KEEPS_DAYS, MOST_PARTS, BlendEntry, MakingEntry, PartEntry, TakeEntry

_SPARE_ROWS = 4


class RecipeForm(HouseForm):
    """From what a material is made, by mass; a line without parts is none."""

    def __init__(self, *args: Any, materials: Sequence[Material], recipe: Recipe | None, **kwargs: Any) -> None:
        now = [] if recipe is None else [part for part, _share in recipe.shares]
        self._count = min(max(len(now) + 2, _SPARE_ROWS), MOST_PARTS)
        super().__init__(*args, initial=_as_typed(recipe), **kwargs)
        self._materials = {str(one.pk): one for one in materials}
        choices = [("", "–"), *((key, one.name) for key, one in self._materials.items())]
        for row in range(self._count):
            self.fields[f"material_{row}"] = forms.ChoiceField(
                label="Material", required=False, choices=choices,
                error_messages={"invalid_choice": "Choose the material from the list."},
            )  # fmt: skip
            self.fields[f"name_{row}"] = NameField(
                what="The part's name", required=False, label="Or, not kept here, its name"
            )  # fmt: skip
            self.fields[f"parts_{row}"] = NumberField(
                what="The parts", above=Decimal(0), most=LARGEST_G, required=False, label="Parts by mass"
            )  # fmt: skip
        self.fields["yielded"] = NumberField(
            what="What comes of it", above=Decimal(0), most=Decimal(100), places=2, label="Comes of it, % of the parts",
            help_text="Less than 100 where something is lost: strained off, dried out.",
        )  # fmt: skip
        self.fields["keeps_days"] = WholeField(
            what="The days", least=1, most=MOST_KEEPS_DAYS, required=False, label="Keeps, days",
            help_text="Once it is made. Empty: as long as what is in it.",
        )  # fmt: skip
        self.fields["note"] = forms.CharField(
            label="Note", required=False, widget=forms.Textarea(attrs={"rows": 3}), max_length=4000,
            error_messages={"max_length": "The note is too long: keep it to 4000 characters."},
        )  # fmt: skip

    @property
    def rows(self) -> list[list[Any]]:
        """Return the bound fields row by row."""
        return [[self[f"{name}_{row}"] for name in ("material", "name", "parts")] for row in range(self._count)]

    def clean(self) -> dict[str, Any]:
        """Ask for the parts of each line that names something, and for the name of each with parts."""
        values = super().clean() or {}
        for row in range(self._count):
            is_named = values.get(f"material_{row}") or values.get(f"name_{row}")
            has_parts = values.get(f"parts_{row}") is not None
            if is_named and not has_parts and f"parts_{row}" not in self.errors:
                self.add_error(f"parts_{row}", "How many parts by mass? Type a figure, like 1.")
            if has_parts and not is_named:
                self.add_error(f"material_{row}", "Of what? Choose a material, or type a name beside it.")
        return values

    def entry(self) -> BlendEntry:
        """Return the recipe as entered."""
        values = self.cleaned_data
        parts = [
            PartEntry(values[f"parts_{row}"], self._materials.get(values[f"material_{row}"]), values[f"name_{row}"])
            for row in range(self._count)
            if values[f"parts_{row}"] is not None
        ]
        return BlendEntry(parts, values["yielded"] / 100, values["keeps_days"], values["note"])


def _as_typed(recipe: Recipe | None) -> dict[str, Any]:
    if recipe is None:
        return {"yielded": Decimal(100)}
    now: dict[str, Any] = {
        "yielded": recipe.blend.yielded * 100, "keeps_days": recipe.blend.keeps_days, "note": recipe.blend.note,
    }  # fmt: skip
    for row, (part, _share) in enumerate(recipe.shares):
        named = {f"name_{row}": part.name} if part.material_id is None else {f"material_{row}": str(part.material_id)}
        now |= {**named, f"parts_{row}": part.parts}
    return now


class HowMuchForm(HouseForm):
    """How much of a blend is to be made."""

    def __init__(self, *args: Any, unit: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["made_g"] = MassField(unit=unit, what="The amount", label=f"How much is to come of it, {unit}")


class MakingForm(HouseForm):
    """What went into a blend that was made, from which lot, and what came of it."""

    standing = forms.ChoiceField(
        label="It is",
        widget=forms.RadioSelect,
        choices=[
            (Lot.Standing.RELEASED, "released: looked at and labelled, may be used"),
            (Lot.Standing.QUARANTINE, "in quarantine: waits for a look or a test"),
        ],
        error_messages=required("Released or in quarantine", "choose one"),
    )
    why = ReasonField(label="What was checked, or what it waits for", required=False)

    # By which recipe it was shown, so that nothing is booked as a part that it was not typed for.
    recipe = forms.CharField(required=False, widget=forms.HiddenInput)
    # The weights somebody said they really weighed of lye; other ones are asked about again.
    off_confirmed = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(
        self, sent: QueryDict | None, *, visit: Visit, recipe: Recipe, lots: Sequence[Lot], now: dict[str, Decimal]
    ) -> None:
        unit = visit.workshop.unit
        initial = {name: exactly(grams, unit) for name, grams in now.items() if grams}
        shown, self._changed = (None, []) if sent is None else sent_by(sent, visit.workshop, recipe)
        super().__init__(shown, initial={**initial, "recipe": str(recipe.blend.pk)})
        today = Calendar(visit.workshop, visit.at).today
        self._recipe, self._lots, self._unkept, self.groups = recipe.blend.pk, lots, {}, []
        gone, strange = ([], []) if shown is None else lots_gone(shown, visit.workshop, lots)
        self._gone = {f"{LOT}{lot.pk}": lot for lot in gone}
        self._changed = [*self._changed, *strange]
        self._today, kept = today, {part.material_id for part, _share in recipe.shares}
        for part, _share in recipe.shares:
            names = []
            if part.material_id is None:
                names = [f"{UNKEPT}{part.pk}"]
                self._unkept[names[0]] = part.name
                self.fields[names[0]] = MassField(unit=unit, what=part.name, label=f"{part.name}, {unit}", required=False)
            else:
                of_part = [lot for lot in (*lots, *self._gone.values()) if lot.material_id == part.material_id]
                names = [self._add_lot(lot, unit, best_before_words(lot, today)) for lot in of_part]
            self.groups.append((part.name, names))
        for lot in self._gone.values():
            if lot.material_id not in kept:
                self.groups.append((lot.material.name, [self._add_lot(lot, unit, "no part any more")]))
        self.fields["made_g"] = MassField(unit=unit, what="What came of it", label=f"Came of it, as weighed, {unit}")
        self.fields["made_at"] = MomentField(
            what="The time", time_zone=visit.workshop.time_zone, required=False, label="When", help_text="Empty means now."
        )
        self.fields["best_before"] = DayField(
            what="The best-before", required=False, label="Best before",
            help_text="Empty: as its recipe says, and no longer than what is in it.",
        )  # fmt: skip
        self.order_fields([name for _what, names in self.groups for name in names] + ["made_g", "made_at", "best_before"])

    def _add_lot(self, lot: Lot, unit: str, said: str) -> str:
        name, what = f"{LOT}{lot.pk}", f"What was taken of lot {lot.number}"
        hint = f"{held_words(lot, unit)} here, {said}."
        self.fields[name] = MassField(unit=unit, what=what, label=f"Lot {lot.number}, {unit}", help_text=hint, required=False)
        return name

    def clean(self) -> dict[str, Any]:
        """Refuse what is no more as it was shown, in words; what was typed stays."""
        values = super().clean() or {}
        for said in self._changed:
            self.add_error(None, said)
        for name, lot in self._gone.items():
            if values.get(name) is not None:
                said = f"Lot {lot.number} {why_gone(lot, self._today)}: it was shown before that. Empty this, and take another."
                self.add_error(name, said)
        return values

    @property
    def parts(self) -> list[tuple[str, list[Any]]]:
        """Return the bound fields of each part under its name."""
        return [(what, [self[name] for name in names]) for what, names in self.groups]

    @property
    def weights(self) -> str:
        """Return what is confirmed of lye that is not as strong as its recipe: the weights as they are typed."""
        return ", ".join(str(self.data.get(name, "")).strip() for _what, names in self.groups for name in [*names, "made_g"])

    @property
    def question(self) -> str:
        """Return what a person confirms where the strength is asked about; nothing where it is not."""
        return self.weights if self.refusal is not None and self.refusal.code == "other_strength" else ""

    def entry(self, visit: Visit) -> MakingEntry:
        """Return what was made as entered."""
        values = self.cleaned_data
        takes = [TakeEntry(values[f"{LOT}{lot.pk}"], lot) for lot in self._lots if values.get(f"{LOT}{lot.pk}")]
        takes += [TakeEntry(values[name], name=what) for name, what in self._unkept.items() if values[name]]
        return MakingEntry(
            made_g=values["made_g"],
            takes=takes,
            made_at=values["made_at"] or visit.at,
            best_before=values["best_before"],
            standing=values["standing"],
            why=values["why"],
            recipe=self._recipe,
            is_off_confirmed=values["off_confirmed"] == self.weights,
        )
