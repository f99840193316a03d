"""A pour at the table, for tests: a formula of a house with lots, and somebody who weighs it out."""

import uuid
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from curehouse.flows.pour import begin, say
from curehouse.flows.stock import record_value
from curehouse.making.formulas.entries import LineEntry, Role
from curehouse.making.models import FormulaVersion, Pour, PourStep, Run
from curehouse.making.pouring.saying import Said
from curehouse.making.pouring.table import Kind, Table, read_table
from curehouse.making.services.formulas import write_formula
from inventory.models import Lot, Material
from tests.formulas import formula_entry, liquid
from tests.world import World

OLIVE_G, COCONUT_G, WATER_G = Decimal(700), Decimal(300), Decimal(150)


def lot_with(world: World, material: Material, figure: tuple[str, str] | None, on_hand: str = "5000", **more: Any) -> Lot:
    """Receive a lot with a figure of its certificate."""
    row = world.lot(on_hand, material=material, **more)
    if figure is not None:
        named = {"name": figure[0], "value": Decimal(figure[1]), "unit": "", "value_confirmed": True}
        record_value(actor=world.actor, lot=row, at=world.now, **named)
    return row


@dataclass
class Bench:
    """A house with a formula of 5 %, all of whose fats and lye have certificates: 150 g of water in front, milk at trace."""

    world: World
    superfat: str = "0.05"
    naoh_share: str = "1"
    acid_g: str = ""
    water_g: str = f"{WATER_G}"
    olive: Material = field(init=False)
    coconut: Material = field(init=False)
    lye: Material = field(init=False)
    acid: Material | None = field(init=False, default=None)
    lots: dict[str, Lot] = field(init=False)
    version: FormulaVersion = field(init=False)

    def __post_init__(self) -> None:
        world = self.world
        self.lye = world.material("Sodium hydroxide", kind="lye")
        self.olive, self.coconut = world.material("Olive oil"), world.material("Coconut oil")
        self.lots = {
            "0": lot_with(world, self.olive, ("SAP", "190")),
            "1": lot_with(world, self.coconut, ("SAP", "256")),
            "naoh": lot_with(world, self.lye, ("Purity", "99")),
        }
        lines: tuple[LineEntry, ...] = (
            LineEntry(Role.FAT, material=self.olive, amount=OLIVE_G),
            LineEntry(Role.FAT, material=self.coconut, amount=COCONUT_G),
            liquid("water", self.water_g),
            liquid("goat_milk", "170", goes_in="trace"),
        )
        more: dict[str, Any] = {"liquid": Decimal(self.water_g) + 170}
        if self.acid_g:
            self.acid = world.material("Citric acid", kind="additive")
            line = LineEntry(Role.ACID, material=self.acid, key="citric", form="anhydrous", amount=Decimal(self.acid_g))
            lines = (*lines, line)
            self.lots["4"] = lot_with(world, self.acid, None)
        if Decimal(self.naoh_share) < 1:
            more |= {"naoh_share": Decimal(self.naoh_share), "koh_from": world.material("Potassium hydroxide", kind="lye")}
            self.lots["koh"] = lot_with(world, more["koh_from"], ("Purity", "90"))
        entry = formula_entry(
            name="Meadow bar", lines=lines, superfat=Decimal(self.superfat), naoh_from=self.lye, **more
        )  # fmt: skip
        self.version = write_formula(actor=world.actor, entry=entry, at=world.now)

    def begin(self, run: Run | None = None, fats_g: Decimal = Decimal(1000)) -> Pour:
        """Begin a pour."""
        return begin(actor=self.world.actor, version=self.version, fats_g=fats_g, run=run, at=self.world.now)

    def say(self, pour: Pour, kind: str, **more: Any) -> PourStep:
        """Say one thing at the table."""
        at, actor = more.pop("at", self.world.now), more.pop("actor", self.world.actor)
        said = Said(kind, more.pop("client_id", None) or uuid.uuid4(), **more)
        return say(actor=actor, pour=pour, said=said, at=at)

    def weigh(self, pour: Pour, slot: str, grams: str | Decimal | None = None, **more: Any) -> PourStep:
        """Weigh a line, as it is meant where nothing else is said, of its lot."""
        meant = self.table(pour).lines[slot].target_g if grams is None else Decimal(grams)
        lot = more.pop("lot", self.lots.get(slot))
        return self.say(pour, Kind.WEIGHED, slot=slot, lot=lot, amount_g=meant, **more)

    def table(self, pour: Pour) -> Table:
        """Return how a pour stands."""
        return read_table(Pour.unscoped.select_related("version__formula", "workshop", "run").get(pk=pour.pk))

    def go_on(self, pour: Pour, *, until: str | None = None) -> None:
        """Do one step after the other as it is meant, up to *until* (not done) or the end."""
        while (key := self.table(pour).next) not in (None, until):
            if key in self.table(pour).lines:
                self.weigh(pour, key)
            elif key in (Kind.LYE_TEMP, Kind.FATS_TEMP):
                self.say(pour, key, celsius=Decimal(38))
            else:
                self.say(pour, key)
