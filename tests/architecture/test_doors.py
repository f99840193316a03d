"""Doors translate: they write nothing themselves, ask short questions, and never walk around a workshop."""

import ast
from pathlib import Path

import pytest

from tests.architecture.sources import DOORS, PACKAGES, ROOT, calls_of, chain_of, method_of, name_of, python_files, tree_of

WRITES = {"save", "create", "delete", "bulk_create", "bulk_update", "get_or_create", "update_or_create"}
NARROWS = {"filter", "exclude", "annotate", "aggregate", "alias"}
# They look through a model's first manager, and that is the unscoped one.
WALKS_AROUND = {"get_object_or_404", "get_list_or_404"}

# Who may say `.unscoped`, and why. Domains read and write their own tables; the rest is listed.
MAY_SEE_ALL = {
    "curehouse/workshops/scoping.py": "defines it",
    "inventory/queries/lots.py": "subqueries of its own domain",
    "inventory/queries/store_counts.py": "subqueries of its own domain",
    "inventory/queries/things.py": "subqueries of its own domain",
    "inventory/services/blends.py": "the writer of its own tables",
    "inventory/services/brought.py": "the writer of its own tables",
    "inventory/services/lots.py": "the writer of its own tables",
    "inventory/services/movements.py": "the writer of its own tables",
    "inventory/services/offers.py": "the writer of its own tables",
    "inventory/services/orders.py": "the writer of its own tables",
    "inventory/queries/orders.py": "subqueries of its own domain",
    "inventory/services/papers.py": "the writer of its own tables",
    "inventory/services/proposals.py": "the writer of its own tables",
    "inventory/services/posting.py": "the writer of its own tables",
    "inventory/services/recounts.py": "the writer of its own tables",
    "inventory/services/settling.py": "the writer of its own tables",
    "inventory/services/store_counts.py": "the writer of its own tables",
    "inventory/services/things.py": "the writer of its own tables",
    "inventory/balance.py": "verify_ledger sweeps the whole house",
    "curehouse/workshops/changes.py": "what a person let in, wherever they work, is told to the shell",
    "curehouse/workshops/queries.py": "subqueries of its own domain",
    "curehouse/workshops/services/audit.py": "the writer of its own tables",
    "curehouse/workshops/services/house.py": "the writer of its own tables",
    "curehouse/workshops/services/invitations.py": "the writer of its own tables; a secret says which workshop's it is",
    "curehouse/web/views/joining.py": "a person sees and chooses the workshops they are a member of",
    "curehouse/making/queries.py": "subqueries of its own domain",
    "curehouse/making/services/at_table.py": "the writer of its own tables",
    "curehouse/making/services/batches.py": "the writer of its own tables",
    "curehouse/making/services/cut_notes.py": "the writer of its own tables",
    "curehouse/making/services/facts.py": "the writer of its own tables",
    "curehouse/making/services/formulas.py": "the writer of its own tables",
    "curehouse/making/services/brought.py": "the writer of its own tables",
    "curehouse/intake/services.py": "the writer of its own tables",
    "curehouse/selling/services.py": "the writer of its own tables",
    "curehouse/curing/services/brought.py": "the writer of its own tables",
    "curehouse/making/services/runs.py": "the writer of its own tables",
    "curehouse/making/services/uses.py": "the writer of its own tables",
    "curehouse/curing/services/forecasts.py": "the writer of its own tables",
    "curehouse/curing/queries/obstacles.py": "subqueries of the batches' own verdicts",
    "curehouse/curing/queries/weighing.py": "subqueries of its own domain",
    "curehouse/curing/services/bars.py": "the writer of its own tables",
    "curehouse/curing/services/cures.py": "the writer of its own tables",
    "curehouse/curing/services/labels.py": "the writer of its own tables",
    "curehouse/curing/services/kept_places.py": "the writer of its own tables",
    "curehouse/curing/services/places.py": "the writer of its own tables",
    "curehouse/curing/services/racks.py": "the writer of its own tables",
    "curehouse/curing/services/readings.py": "the writer of its own tables",
    "curehouse/curing/services/room_log.py": "the writer of its own tables",
    "curehouse/curing/services/rooms.py": "the writer of its own tables",
    "curehouse/curing/queries/rooms.py": "subqueries of its own domain",
    "curehouse/curing/balance.py": "verify_places sweeps the whole house",
    "curehouse/curing/services/turning.py": "the writer of its own tables",
    "curehouse/notices/services/delivering.py": "the writer of its own tables",
    "curehouse/notices/services/telling.py": "the writer of its own tables",
    "curehouse/flows/tick.py": "the tick sweeps all workshops for what is due",
    "curehouse/flows/weigh_many.py": "locks by keys found within the workshop",
    "curehouse/web/access.py": "the door finds out which workshops a person is a member of",
    "api/permissions.py": "the door finds out which workshops a person is a member of",
    "curehouse/commands/management/commands/mail_setup.py": "the shell is the house's owner, in no workshop",
}


def says_unscoped(path: Path) -> bool:
    return any(isinstance(node, ast.Attribute) and node.attr == "unscoped" for node in ast.walk(tree_of(path)))


@pytest.mark.parametrize("path", python_files(*DOORS), ids=name_of)
def test_a_door_writes_nothing_itself(path: Path) -> None:
    writes = [call.lineno for call in calls_of(path) if isinstance(call.func, ast.Attribute) and call.func.attr in WRITES]
    # A QuerySet's update() takes names only; a dictionary's takes something else.
    writes += [call.lineno for call in calls_of(path) if method_of(call) == "update" and call.keywords and not call.args]
    assert writes == []


@pytest.mark.parametrize("path", python_files(*DOORS), ids=name_of)
def test_a_door_asks_short_questions(path: Path) -> None:
    """Longer ones have a name, in a domain's queries."""
    long = [call.lineno for call in calls_of(path) if sum(name in NARROWS for name in chain_of(call)) > 1]
    assert long == []


@pytest.mark.parametrize("path", python_files(*DOORS), ids=name_of)
def test_a_door_does_not_look_past_the_workshop(path: Path) -> None:
    assert [call.lineno for call in calls_of(path) if method_of(call) in WALKS_AROUND] == []


@pytest.mark.parametrize("path", python_files(*PACKAGES), ids=name_of)
def test_only_the_modules_named_see_all_workshops(path: Path) -> None:
    if name_of(path) not in MAY_SEE_ALL:
        assert not says_unscoped(path), "add it to MAY_SEE_ALL with a reason, or go through .objects.within(workshop)"


def test_every_module_that_may_see_all_workshops_still_does() -> None:
    saying = {name_of(path) for path in python_files(*PACKAGES) if says_unscoped(path)}
    # scoping.py gives the manager its name and never goes through it.
    assert set(MAY_SEE_ALL) - saying == {"curehouse/workshops/scoping.py"}


@pytest.mark.parametrize("path", [path for path in python_files(*PACKAGES) if "services" in name_of(path)], ids=name_of)
def test_a_service_is_told_the_time(path: Path) -> None:
    assert not {"now", "today", "utcnow", "localtime"} & {method_of(call) for call in calls_of(path)}


# A door that calls these leaves Today asking for what is not so any more: flows/stock.py has them all.
MOVES_STOCK = {
    "inventory.services.movements": {"receive_more", "use", "write_off", "give_back", "count", "reverse", "take_back_count"},
    # count_in_store is what the flow calls count.
    "inventory.services.store_counts": {"count_in_store", "end_store_count"},
    "inventory.services.lots": {"receive", "rule_lot", "correct_lot"},
    "inventory.services.things": {"edit_material"},
}


@pytest.mark.parametrize("path", python_files(*DOORS), ids=name_of)
def test_a_door_moves_stock_by_the_flows_only(path: Path) -> None:
    froms = [node for node in ast.walk(tree_of(path)) if isinstance(node, ast.ImportFrom)]
    taken = {alias.name for node in froms for alias in node.names if alias.name in MOVES_STOCK.get(node.module or "", ())}
    whole = [node for node in froms if node.module in ("inventory", "inventory.services")]
    modules = {alias.name for node in whole for alias in node.names if f"{node.module}.{alias.name}" in MOVES_STOCK}
    assert (taken, modules) == (set(), set())


def test_the_flow_has_every_verb_that_moves_stock() -> None:
    flow = tree_of(ROOT / "curehouse/flows/stock.py")
    own = {node.name for node in flow.body if isinstance(node, ast.FunctionDef)}
    # What is used a batch uses: flows/use_stock.py.
    assert set().union(*MOVES_STOCK.values()) - {"use", "count_in_store"} <= own
