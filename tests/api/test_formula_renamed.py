"""A formula that gets another name keeps what its cures have taught."""

from datetime import timedelta
from typing import Any

from curehouse.curing.models import CureLearning
from curehouse.flows.foretell import learn_and_foretell
from curehouse.flows.take_out import take_out
from curehouse.making.services import TakeOutEntry
from tests.api.device import Device
from tests.api.test_formulas import body, made
from tests.flows.test_foretell import cure_of, cured
from tests.world import World


def changed(device: Device, formula: int, **changes: Any) -> None:
    """Change a formula, and confirm what is asked as a person does who reads what stands there."""
    path, sent = f"formulas/{formula}/versions/", body(**changes)
    answer = device.post(path, sent)
    if answer.status_code == 409:
        answer = device.post(path, {**sent, "confirmed": answer.json()["data"]["confirm"]})
    assert answer.status_code == 201, answer.content


def test_what_is_known_of_the_cures_of_a_formula_goes_by_its_new_name(world: World, device: Device) -> None:
    ended, going_on, other = (
        cured(world, days_ago=35 - 7 * n, last=21 - 7 * n, number=n, sample_bars=1, formula_name=name)
        for n, name in enumerate(("Plain", "Plain", "Other"))
    )
    entry = TakeOutEntry(bars=ended.bars_left, purpose="sale", taken_at=world.now, forced_reason="for a fair")
    take_out(actor=world.actor, batch=ended, entry=entry, at=world.now)
    learn_and_foretell(workshop_id=world.workshop.pk, at=world.now)
    other_record = cure_of(other).record_id

    def known_as() -> list[str]:
        return [cure_of(batch).record.content["formula"] for batch in (ended, going_on)]

    assert known_as() == ["Plain", "Plain"]
    changed(device, ended.formula_id, name="Plain soap")
    # What it cured under its old name is no other formula's: the worker reads and learns it anew.
    assert learn_and_foretell(workshop_id=world.workshop.pk, at=world.now + timedelta(minutes=5)) == 2
    assert known_as() == ["Plain soap", "Plain soap"]
    assert cure_of(going_on).forecast.record.content["formula"] == "Plain soap"
    assert cure_of(other).record_id == other_record


def test_a_change_that_renames_nothing_lets_nothing_be_learnt_anew(world: World, device: Device) -> None:
    formula = made(device)
    changed(device, formula["id"], liquid=330)
    assert not CureLearning.objects.within(world.workshop).filter(wanted_at__isnull=False).exists()
