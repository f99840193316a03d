"""The kind *formulas*: one row for each thing that goes into one, under the formula's name."""

from dataclasses import dataclass
from decimal import ROUND_DOWN, Decimal
from typing import Any

from curehouse.common.errors import DomainError
from curehouse.core.chemistry.acids import ACIDS
from curehouse.core.chemistry.alkali import Alkali
from curehouse.flows.bring_in.as_read import lines_as_read
from curehouse.flows.bring_in.cells import CellFault, Cells
from curehouse.flows.bring_in.columns import Column
from curehouse.flows.bring_in.header_units import Holds
from curehouse.flows.bring_in.laid_aside import Spool
from curehouse.flows.bring_in.lines import Line, LinesRead, Needed, choice_of, read_lines, text_of
from curehouse.flows.bring_in.lye_beside import lye_beside
from curehouse.flows.bring_in.lye_columns import LYE_COLUMNS, LYE_READERS, LYE_TOLD, left_out, naoh_share_of
from curehouse.flows.bring_in.outcome import MOST_LEFT_OUT, Outcome, outcome
from curehouse.flows.bring_in.work import Work
from curehouse.making.fats import fat_kinds
from curehouse.making.formulas.entries import FormulaEntry, GoesIn, LineEntry, Per, Role
from curehouse.making.formulas.known import Known
from curehouse.making.formulas.masses import field_of
from curehouse.making.formulas.names import alkali_by_name, is_called_lye, key_called, perhaps
from curehouse.making.liquids import liquid_kinds
from curehouse.making.models import Formula, MaterialFacts
from curehouse.making.services.formulas import check_formula, write_formula
from inventory.models import Material

_LYE = "lye"
_ROLES: dict[str, str] = {
    **{role.value: role for role in Role},
    "oil": Role.FAT, "butter": Role.FAT, "fats": Role.FAT, "oils": Role.FAT, "öl": Role.FAT, "fett": Role.FAT,
    "water": Role.LIQUID, "milk": Role.LIQUID, "flüssigkeit": Role.LIQUID, "milch": Role.LIQUID, "wasser": Role.LIQUID,
    "säure": Role.ACID, "duft": Role.FRAGRANCE, "essential oil": Role.FRAGRANCE, "scent": Role.FRAGRANCE,
    "color": Role.COLOUR, "farbe": Role.COLOUR, "zusatz": Role.ADDITIVE,
    "lye": _LYE, "naoh": _LYE, "lauge": _LYE, "koh": _LYE,
}  # fmt: skip
_PLACES = {
    "front": GoesIn.FRONT, "in front": GoesIn.FRONT, "with the lye": GoesIn.FRONT, "lye": GoesIn.FRONT, "vorn": GoesIn.FRONT,
    "trace": GoesIn.TRACE, "at trace": GoesIn.TRACE, "later": GoesIn.TRACE, "zur spur": GoesIn.TRACE,
}  # fmt: skip
_FORMS = {
    **{form: form for forms in ACIDS.values() for form in forms},
    "dry": "anhydrous", "wasserfrei": "anhydrous", "anhydre": "anhydrous", "anidro": "anhydrous",
    "monohydrat": "monohydrate", "crystals": "monohydrate", "monoidrato": "monohydrate",
    "lösung": "solution", "dissolved": "solution", "liquid": "solution", "soluzione": "solution",
}  # fmt: skip
# Potassium hydroxide takes more grams, and is sold far from pure: a list without its share and purity cannot say it.
_POTASSIUM_NAMES = {"koh", "potassium hydroxide", "caustic potash", "kaliumhydroxid", "ätzkali", "kalilauge"}
_NO_POTASSIUM = "is potassium hydroxide: a column has to say its share of the lye, and another its purity; or write it by hand"
_WHAT = {"superfat": "superfat", "fats": "mass of all fats", **LYE_TOLD}

FORMULA_COLUMNS = (
    Column("formula", "Formula"),
    Column("material", "What goes in"),
    Column("role", "It is", "fat, liquid, acid, additive, fragrance or colour"),
    Column("amount", "Amount", "a mass, or % of the fats", Holds.PART),
    Column("unit", "Unit"),
    Column("goes_in", "Goes in", "front or trace"),
    Column("acid_form", "Form of the acid", "anhydrous, monohydrate or solution"),
    Column("strength", "Strength of the acid, %", "of a solution", Holds.PER_CENT),
    Column("superfat", "Superfat, %", holds=Holds.PER_CENT),
    *LYE_COLUMNS,
    Column("fats", "All fats", "the size, where amounts are %", Holds.MASS),
    Column("note", "Note"),
)


@dataclass(frozen=True, slots=True)
class Part:
    """An amount: grams, or a share of the fats."""

    per: str
    amount: Decimal

    @property
    def in_words(self) -> str:
        """Return the amount with its unit."""
        is_share = self.per == Per.FATS
        return f"{(100 * self.amount).normalize():f} % of the fats" if is_share else f"{self.amount.normalize():f} g"


def _part(cells: Cells, line: Line) -> Part:
    cell, unit = line.cell("amount"), line.table.unit(line.row, "amount")
    share = cells.share_of_fats(cell, unit=unit)
    if share is None:
        return Part(Per.GRAMS, cells.grams(cell, unit=unit, rounding=ROUND_DOWN))
    if not 0 < share <= 10:
        raise CellFault("is no share of the fats: check the figure")
    return Part(Per.FATS, share)


def _per_cent(cells: Cells, line: Line, key: str) -> tuple[Decimal, bool]:
    return cells.per_cent(line.cell(key), unit=line.table.unit_of(key))


def _superfat(cells: Cells, line: Line) -> Decimal:
    number, is_percent = _per_cent(cells, line, "superfat")
    # 5 is 5 %, 0.05 is 5 % too; half a per cent is nobody's superfat, and 0.5 could be read two ways.
    if is_percent or number >= 1 or number == 0:
        number /= 100
    elif number >= Decimal("0.3"):
        raise CellFault("can be read two ways: write it with its %, like 5 %")
    if not 0 <= number <= Decimal("0.5"):
        raise CellFault("is no superfat: it lies between 0 and 50 %")
    return number


def _strength(cells: Cells, line: Line) -> Decimal:
    number, is_percent = _per_cent(cells, line, "strength")
    # 80 is 80 %, 0.8 is 80 % too; of an acid as weak as 1 % or less nobody can say which is meant.
    if is_percent or number > 1:
        number /= 100
    elif number == 1:
        raise CellFault("can be read two ways: write it with its %, like 1 % or 100 %")
    if not 0 < number <= 1:
        raise CellFault("is no strength: it lies above 0 and up to 100 %")
    return number


_READERS = {
    "formula": text_of("formula"),
    "material": text_of("material"),
    "role": choice_of("role", _ROLES, "is no role: use fat, liquid, acid, additive, fragrance or colour"),
    "amount": _part,
    "goes_in": choice_of("goes_in", _PLACES, "says neither front nor trace"),
    "acid_form": choice_of("acid_form", _FORMS, "is no form of an acid: use anhydrous, monohydrate or solution"),
    "strength": _strength,
    "superfat": _superfat,
    **LYE_READERS,
    "fats": lambda cells, line: cells.grams(line.cell("fats"), unit=line.table.unit(line.row, "fats"), rounding=ROUND_DOWN),
    "note": text_of("note", longest=4000, many_lines=True),
}
_NEEDED = {
    "formula": Needed("Say which column names the formula.", "is empty: say which formula the row is of"),
    "material": Needed("Say which column names what goes in.", "is empty: say what goes in"),
    "amount": Needed("Say which column holds the amounts.", "is empty: say how much goes in"),
}


def read_formulas(work: Work) -> LinesRead:
    """Read the list, without looking anything up."""
    figures = ("amount", "superfat", "strength", *LYE_TOLD)
    return read_lines(work, FORMULA_COLUMNS, _READERS, needed=_NEEDED, figures=figures)


@dataclass(slots=True)
class _Group:
    """The rows of one formula."""

    name: str
    lines: list[Line]

    def told(self, key: str) -> Any:
        """Return what the first row that says it says of the whole formula, or None."""
        return next((line.facts[key] for line in self.lines if key in line.facts), None)


def _plain(name: str) -> str:
    return name.casefold().replace("’", "'").replace("'s ", " ").strip()


def _by_name() -> dict[str, tuple[str, str]]:
    """Return what the list knows by name: its role and its key."""
    found = {_plain(kind.name): (str(Role.LIQUID), key) for key, kind in liquid_kinds().items()}
    found |= {_plain(kind.name): (str(Role.FAT), key) for key, kind in fat_kinds().items()}
    return found | {f"{key} acid": (str(Role.ACID), key) for key in ACIDS}


def _alike(name: str, told: str) -> tuple[str, str]:
    """Return what a name may be besides the list's own words: its role and its key, or nothing."""
    for role, rows in ((Role.FAT, fat_kinds()), (Role.LIQUID, liquid_kinds())):
        if told in ("", role) and (key := key_called(name, rows)):
            return str(role), key
    return "", ""


_ROLE_OF_KIND = {"fat": Role.FAT, "liquid": Role.LIQUID, "fragrance": Role.FRAGRANCE, "colour": Role.COLOUR}


class _Settling:
    """Holds a list of formulas against the house."""

    def __init__(self, work: Work, found: LinesRead) -> None:
        self._work, self._found = work, found
        self._materials = {row.name.casefold(): row for row in Material.objects.within(work.workshop)}
        self._known = Known({facts.material_id: facts for facts in MaterialFacts.objects.within(work.workshop)})
        self._listed = _by_name()
        here = Formula.objects.within(work.workshop).with_newest_version()
        self._here = {row.name.casefold() for row in here if row.newest_version}
        self.new: Spool[FormulaEntry] = Spool()
        self.known = 0
        self.left_out: list[str] = []
        self.left_out_count = 0

    def settle(self) -> None:
        """Settle every formula; what is refused is among the findings."""
        done = 0
        for lines in self._found.lines.together("formula"):
            self._work.progress("checking", done, len(self._found.lines))
            group = _Group(lines[0].facts["formula"], lines)
            if group.name.casefold() in self._here:
                self.known += 1
            else:
                self._settle(group)
            done += len(lines)

    def _settle(self, group: _Group) -> None:
        if self._says_two(group):
            return
        superfat = group.told("superfat")
        if superfat is None:
            group.lines[0].refuse("superfat", f"of {group.name} is missing: 5 % is usual")
            return
        naoh_share = naoh_share_of(group.told)
        if naoh_share is None:
            group.lines[0].refuse("naoh_share", f"and the share of KOH of {group.name} do not make 100 % together: write one")
            return
        entries = [self._line(line, is_mixed=naoh_share < 1) for line in group.lines]
        if None in entries:
            return
        lines = [entry for entry in entries if isinstance(entry, LineEntry)]
        self._check(group, lines, superfat, naoh_share)

    def _compare_lye(self, group: _Group, entry: FormulaEntry) -> None:
        own: list[Part] = [line.facts["amount"] for line in group.lines if line.facts.get("is_lye")]
        if own and (said := lye_beside(self._work, entry, [(part.per, part.amount) for part in own])):
            self._found.findings.remark(said)

    def _says_two(self, group: _Group) -> bool:
        """Refuse rows of one formula that say different things of the whole of it; return whether there are some."""
        found = False
        for key, what in _WHAT.items():
            said = [line for line in group.lines if key in line.facts]
            for line in said:
                if line.facts[key] != said[0].facts[key]:
                    first = said[0].row.number
                    line.refuse(
                        key, f"is another {what} of {group.name} than row {first} says: write one of them in both, or none"
                    )
                    found = True
        return found

    def _check(self, group: _Group, lines: list[LineEntry], superfat: Decimal, naoh_share: Decimal) -> None:
        liquids = [line for line in lines if line.role == Role.LIQUID and not self._known.is_powder(line)]
        pers = {line.per for line in liquids}
        if len(pers) != 1:
            group.lines[0].refuse("formula", f"{group.name} needs its liquids, all as masses or all as % of the fats")
            return
        in_shares = any(line.role == Role.FAT and line.per == Per.FATS for line in lines)
        entry = FormulaEntry(
            name=group.name,
            lines=lines,
            superfat=superfat,
            liquid=sum((line.amount or Decimal(0) for line in liquids), Decimal(0)),
            liquid_per=pers.pop(),
            fats_g=group.told("fats") if in_shares else None,
            naoh_share=naoh_share,
            naoh_purity=group.told("naoh_purity"),
            koh_purity=group.told("koh_purity"),
            note="\n".join(dict.fromkeys(line.facts["note"] for line in group.lines if line.facts.get("note"))),
        )
        try:
            check_formula(workshop=self._work.workshop, entry=entry, at=self._work.at)
        except DomainError as error:
            if error.code == "formula_unconfirmed":
                self._compare_lye(group, entry)
                self._leave_out(group, error)
                return
            blamed = [line for line in group.lines if line.facts.get("is_of") == error.field]
            key = {"fats_g": "fats", "superfat": "superfat"}.get(error.field or "", "formula")
            (blamed or group.lines)[0].refuse(key, f"cannot be kept. {error.message}")
            return
        self._compare_lye(group, entry)
        self.new.add(entry)

    def _leave_out(self, group: _Group, error: DomainError) -> None:
        self.left_out_count += 1
        if self.left_out_count <= MOST_LEFT_OUT:
            said = f"{group.name}: write it down by hand, for a person has to read this first. {error.message}"
            self.left_out.append(said)

    def _line(self, line: Line, *, is_mixed: bool) -> LineEntry | str | None:
        """Return what a row says goes in, ``lye`` for lye, which is worked out; None where the row is refused."""
        facts, name = line.facts, line.facts["material"]
        told = facts.get("role", "")
        material = self._materials.get(name.casefold())
        is_lye = told == _LYE or (not told and (is_called_lye(name) or (material and material.kind == "lye")))
        is_potassium = is_lye and alkali_by_name(name) is Alkali.KOH
        if (is_potassium or name.casefold() in _POTASSIUM_NAMES) and not is_mixed:
            line.refuse("material", _NO_POTASSIUM)
            return None
        if is_lye:
            self._found.findings.remark("Lye is worked out from the fats and the superfat; its rows are left out.")
            facts["is_lye"] = True
            return _LYE
        role, key = self._listed.get(_plain(name)) or _alike(name, told)
        if material is not None:
            role = _ROLE_OF_KIND.get(material.kind, role or Role.ADDITIVE)
        role = told or role
        if not role:
            line.refuse("material", "is not known here: say in a column what it is (fat, liquid, additive, fragrance, colour)")
            return None
        if role in (Role.FAT, Role.LIQUID, Role.ACID) and not key and material is None:
            near = perhaps(name, {Role.FAT: fat_kinds(), Role.LIQUID: liquid_kinds()}.get(Role(role), {}))
            line.refuse("material", f"is no {Role(role).label} of the list or the storeroom: name it as they do{near}")
            return None
        if role != Role.ACID and (said := next((one for one in ("acid_form", "strength") if one in facts), "")):
            line.refuse(said, f"is said of {name}, which goes in as {Role(role).label}: it is asked of acids only")
            return None
        if role == Role.LIQUID and "goes_in" not in facts:
            said = "Where a liquid goes in is not said of every one: those go in front, with the lye."
            self._found.findings.remark(said)
        part: Part = facts["amount"]
        entry = LineEntry(
            role=role,
            key=key if material is None or role == Role.ACID else "",
            material=material,
            name=name,
            per=part.per,
            amount=part.amount,
            goes_in=facts.get("goes_in", GoesIn.FRONT) if role == Role.LIQUID else "",
            form=facts.get("acid_form", ""),
            strength=facts.get("strength"),
        )
        facts["is_of"] = field_of(entry)
        return entry


def take_in_formulas(work: Work, found: LinesRead) -> Outcome:
    """Hold the list against the house, and write the formulas that are new; one that is here stays as it is."""
    settling = _Settling(work, found)
    settling.settle()
    if found.lines and (said := left_out(found.lines.table)):
        found.findings.remark(said)
    result = outcome(
        found.findings,
        rows_read=found.rows_read,
        adds={"formulas": len(settling.new)},
        known={"formulas": settling.known},
        left_out=settling.left_out,
        left_out_count=settling.left_out_count,
        as_read=lines_as_read(found, FORMULA_COLUMNS, otherwise={"amount": lambda line: line.facts["amount"].in_words}),
    )
    if work.writes and not result.refused_rows:
        for entry in settling.new:
            write_formula(actor=work.actor, entry=entry, at=work.at)
    return result
