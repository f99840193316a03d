"""Entering a batch, and cutting one that was poured."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from decimal import Decimal
from itertools import groupby
from typing import Any

from django import forms

from curehouse.curing.models import KeptPlace, Position
from curehouse.curing.services.bars import LETTERS
from curehouse.flows.enter_batch import RackEntry
from curehouse.making.models import FormulaVersion
from curehouse.making.services import MOST_BARS, BatchEntry
from curehouse.web.forms.cut_seen import NOTHING_SEEN, seen_fields, seen_in
from curehouse.web.forms.fields import (
    HouseForm,
    MassField,
    MomentField,
    NameField,
    NumberField,
    TextField,
    WholeField,
    required,
)
from curehouse.web.forms.liquids import LiquidRows, liquid_rows
from curehouse.web.forms.thousands import (
    MassQuestion,
    as_kept,
    fats_may_be_many,
    liquid_may_be_many,
    many_times,
    question,
    reads_two_ways,
    with_the_answer,
)
from curehouse.workshops.models import Workshop

USUAL_SAMPLE_BARS = 3
_LONGEST_KEY = 18
# Between NaOH and KOH where both stand in one answer.
APART = ";"
# The places that are kept for the bars, as a choice among the others.
KEPT = "kept"
_NOT_CUT = {"cut_at": None, "bars": None, "sample_bars": None, "position": "", "when_full": "", **NOTHING_SEEN}
_ORDER = ("formula_name", "poured_at", "fats_g", "lye_g", "koh_g", "water_share_stated", "is_cut", *_NOT_CUT, "note")
_WHEN_FULL = [("raise", "raise its capacity"), ("elsewhere", "put the rest elsewhere")]


def place_choices(positions: Sequence[Position]) -> list[tuple[str, Any]]:
    """Return the positions (in walking order) by rack with the bars each still takes; the full ones come last."""
    roomy = groupby((one for one in positions if one.bars_free), key=lambda position: position.rack)
    full = [(str(one.pk), f"{one} (full)") for one in positions if not one.bars_free]
    return [
        ("", "without a place for now"),
        *((rack.name, [(str(one.pk), f"{one} ({one.bars_free} free)") for one in places]) for rack, places in roomy),
        *([("Full", full)] if full else []),
    ]


class CutFields(HouseForm):
    """What is known at the cut: when, how many bars, which of them are marked, and where they go."""

    needs_cut = True

    def __init__(self, *args: Any, workshop: Workshop, positions: Sequence[Position], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.positions = {str(position.pk): position for position in positions}
        needed = self.needs_cut
        self.fields |= {
            "cut_at": MomentField(what="The cut", time_zone=workshop.time_zone, required=needed, label="Cut at"),
            "bars": WholeField(what="The number of bars", least=1, most=MOST_BARS, required=needed, label="Bars"),
            "sample_bars": WholeField(
                what="The number of sample bars",
                least=1,
                most=len(LETTERS),
                required=needed,
                label="Sample bars",
                initial=USUAL_SAMPLE_BARS,
            ),
            "position": forms.ChoiceField(
                label="Place",
                choices=place_choices(positions),
                required=False,
                error_messages={"invalid_choice": "This place is not in the workshop: choose one from the list."},
            ),
            # Its buttons stand in the page only where a place turned out too small.
            "when_full": forms.ChoiceField(
                label="When the place is full",
                choices=_WHEN_FULL,
                required=False,
                error_messages={"invalid_choice": "Raise the place's capacity, or put the rest elsewhere: choose one."},
            ),
            **seen_fields(workshop.unit),
        }

    def offer_kept(self, kept: Sequence[KeptPlace]) -> None:
        """Offer the places that are kept for the bars, before any other."""
        if kept:
            words = ", ".join(f"{one.position} ({one.bars})" for one in kept)
            self.fields["position"].choices = [(KEPT, f"kept for it: {words}"), *place_choices(list(self.positions.values()))]
            self.fields["position"].initial = KEPT

    def rack(self) -> RackEntry:
        """Return what is to be done on the racks."""
        values = self.cleaned_data
        return RackEntry(
            sample_bars=values["sample_bars"] or USUAL_SAMPLE_BARS,
            at_kept=values["position"] == KEPT,
            position=self.positions.get(values["position"]),
            when_full=values["when_full"] or "refuse",
            seen=seen_in(values),
        )


class CutForm(CutFields):
    """A poured batch is cut."""


class _KeyField(forms.CharField):
    """The key of a row that stands in the form unseen; what is none counts as nothing."""

    def __init__(self) -> None:
        super().__init__(required=False, widget=forms.HiddenInput)

    def clean(self, value: Any) -> int | None:
        text = super().clean(value)
        return int(text) if text.isascii() and text.isdecimal() and len(text) <= _LONGEST_KEY else None


class BatchForm(CutFields):
    """A batch with its liquids, cut or not cut yet."""

    needs_cut = False
    is_cut = forms.ChoiceField(
        label="Is it cut?",
        choices=[("yes", "Cut into bars"), ("no", "Not cut yet")],
        initial="yes",
        widget=forms.RadioSelect,
        error_messages={"invalid_choice": "Choose whether the batch is cut."} | required("The cut", "choose whether it is cut"),
    )
    formula_name = NameField(
        what="The formula's name",
        label="Formula",
        widget=forms.TextInput(attrs={"list": "formulas", "autocomplete": "off"}),
    )
    water_share_stated = NumberField(
        what="The water share",
        above=Decimal(0),
        most=Decimal(60),
        places=2,
        required=False,
        label="Your own figure instead, in %",
        help_text="Only if you know better than the sum of what went in.",
    )
    note = TextField(
        what="The note", longest=4000, required=False, widget=forms.Textarea(attrs={"rows": 3}), help_text="What was different."
    )
    # The grams somebody said are right though out of the usual; another amount is asked about again.
    lye_confirmed = forms.CharField(required=False, widget=forms.HiddenInput)
    # The version of a formula, and the planned run, that the batch was begun from.
    version, run = _KeyField(), _KeyField()
    # Masses that begin like an earlier batch's: they are not asked about.
    as_before = forms.CharField(required=False, widget=forms.HiddenInput)
    liquids: LiquidRows

    def __init__(
        self,
        data: Mapping[str, Any] | None = None,
        *,
        workshop: Workshop,
        positions: Sequence[Position],
        start: Mapping[str, Any] | None = None,
        rows: list[dict[str, Any]] | None = None,
        more_rows: int = 0,
    ) -> None:
        data = _with_the_guess(data)
        super().__init__(data, workshop=workshop, positions=positions, initial=start)
        unit = workshop.unit
        self.fields |= {
            "poured_at": MomentField(what="The pour", time_zone=workshop.time_zone, label="Poured at"),
            "fats_g": MassField(unit=unit, what="The mass of fats", label=f"Fats, {unit}"),
            "lye_g": MassField(unit=unit, what="The mass of lye", label=f"Lye (NaOH), {unit}"),
            "koh_g": MassField(unit=unit, what="The mass of KOH", required=False, label=f"Lye (KOH), {unit}"),
        }
        # Lye is one of the two, or both.
        self.fields["lye_g"].required = not self["koh_g"].value()
        self.order_fields(_ORDER)
        self.liquids = liquid_rows(data, unit=unit, start=rows, extra=more_rows)
        self.unit = unit
        self.mass_questions: list[MassQuestion] = []
        if not self.is_bound and "as_before" not in self.initial:
            self.initial["as_before"] = as_kept((field.html_name, str(field.value() or "")) for field in self._masses())

    def offer_runs(self, runs: Iterable[tuple[str, str]]) -> None:
        """Let the maker say for which planned run it was poured: keys, and how they are called."""
        self.fields["run"].widget = forms.Select(choices=[("", "none of these"), *runs])
        self.fields["run"].label = "It is the planned run"

    def is_valid(self) -> bool:
        """Return whether the batch and every row of its liquids are right."""
        batch_is_right, liquids_are_right = super().is_valid(), self.liquids.is_valid()
        if self.is_bound and not self.mass_questions:
            self._ask_about_masses()
        if self.is_bound and not liquids_are_right and not self.non_field_errors():
            self.add_error(None, "A liquid needs another look: what to do stands in its row.")
        return batch_is_right and liquids_are_right and not self.mass_questions

    def _masses(self) -> list[forms.BoundField]:
        return [self["fats_g"], *(row["mass_g"] for row in self.liquids)]

    def _ask_about_masses(self) -> None:
        """Ask about fats and liquids that read two ways, where both could be meant."""
        fats_g = self.cleaned_data.get("fats_g")
        if fats_g is None:
            return
        fats, *liquids = self._masses()
        if self._reads_two_ways(fats) and fats_may_be_many(fats_g):
            self._ask(fats, "Fats")
            fats_g = many_times(fats_g)
        for number, mass in enumerate(liquids, start=1):
            mass_g = mass.form.cleaned_data.get("mass_g")
            if mass_g is not None and self._reads_two_ways(mass) and liquid_may_be_many(mass_g, fats_g):
                self._ask(mass, f"Liquid {number}")

    def _reads_two_ways(self, mass: forms.BoundField) -> bool:
        typed = mass.value() or ""
        return reads_two_ways(typed) and f"{mass.html_name}={typed}" not in self.cleaned_data["as_before"].split(" ")

    def _ask(self, mass: forms.BoundField, label: str) -> None:
        asked = question(mass.html_name, label, mass.value(), self.unit)
        self.mass_questions.append(asked)
        mass.form.add_error(mass.name, f"“{asked.typed}” reads two ways: choose one.")

    def clean(self) -> dict[str, Any]:
        """Ask for the cut's particulars where it is cut; forget them where it is not."""
        values = super().clean()
        if values.get("is_cut") == "no":
            for name in _NOT_CUT:
                self.errors.pop(name, None)
            return {**values, **_NOT_CUT}
        for name, remedy in (
            ("cut_at", "The cut is missing: choose a day and a time, or say that it is not cut yet."),
            ("bars", "The number of bars is missing: type a whole number."),
            ("sample_bars", "The number of sample bars is missing: type one, 3 to 5 are usual."),
        ):
            if name in values and values[name] is None:
                self.add_error(name, remedy)
        return values

    def has_masses(self) -> bool:
        """Return whether enough is typed to work out the water share."""
        return bool(self.cleaned_data.get("fats_g") and _lye(self.cleaned_data)[0] and self.liquids.entries())

    def entry_so_far(self, at: datetime) -> BatchEntry:
        """Return what goes into the batch, where the rest is still to be typed."""
        return BatchEntry("", at, None, 0, self.cleaned_data["fats_g"], _lye(self.cleaned_data)[0], self.liquids.entries())

    def entry(self, version: FormulaVersion | None = None) -> BatchEntry:
        """Return the batch as the flow takes it; begun from a version it stays with it, unless its name was changed."""
        values = self.cleaned_data
        stated, (lye_g, koh_g) = values["water_share_stated"], _lye(values)
        return BatchEntry(
            formula_name=values["formula_name"],
            poured_at=values["poured_at"],
            cut_at=values["cut_at"],
            bars=values["bars"] or 0,
            fats_g=values["fats_g"],
            lye_g=lye_g,
            koh_g=koh_g,
            liquids=self.liquids.entries(),
            water_share_stated=None if stated is None else stated / 100,
            note=values["note"],
            lye_confirmed=values["lye_confirmed"] == as_confirmed(lye_g, koh_g),
            version=version if version is not None and version.formula.name == values["formula_name"] else None,
        )


def _lye(values: Mapping[str, Any]) -> tuple[Decimal, Decimal]:
    """Return the grams of both alkalis together, and of KOH."""
    naoh_g, koh_g = (values.get(name) or Decimal(0) for name in ("lye_g", "koh_g"))
    return naoh_g + koh_g, koh_g


def _with_the_guess(data: Mapping[str, Any] | None) -> Mapping[str, Any] | None:
    """Return what was sent, with what was answered to a question in its place."""
    if data is None:
        return None
    data = with_the_answer(data)
    if not data.get("take_lye"):
        return data
    naoh, apart, koh = data["take_lye"].partition(APART)
    taken = {"lye_g": naoh, "koh_g": koh} if apart else {"lye_g": naoh}
    return {**{name: data[name] for name in data if name != "take_lye"}, **taken}


def as_confirmed(lye_g: Decimal, koh_g: Decimal) -> str:
    """Return how it is said that so much lye is right, *koh_g* grams of it KOH."""
    return f"{lye_g:.3f}{APART}{koh_g:.3f}" if koh_g else f"{lye_g:.3f}"
