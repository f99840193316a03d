"""Whether stated chances hold: ``python -m tests.benchmarks.stated_use FOLDER``.

Every week of each history is gone through again: what is not passed in 21 days nine times in ten, by what was known
then, against what was used. FOLDER holds a folder of files of ``reorder_levels`` for each case; only what a house would
have is read. Beside them stand the histories of ``tests/data``. Limit: 86 to 94 of 100, all together.
"""

import argparse
import sys
from pathlib import Path

import numpy as np

from curehouse.commands.house.reorder_files import read_shop
from curehouse.core.stock.reorder.things import Used
from tests.core.stock.reorder.replayed import Said, replay
from tests.core.stock.reorder.test_stated import LAST_DAY, histories

SHARES = (0.5, 0.8, 0.9, 0.95)
LIMITS = (0.86, 0.94)
# Of a history so short little is said, but not nothing.
NEW_DAYS, LEAST_NEW_DAYS = 120, 20


def _of_folder(folder: Path) -> dict[str, list[Said]]:
    found = {}
    for case in sorted(path.parent for path in folder.glob("*/meta.json")):
        items, as_of, _costs = read_shop(case)
        of = [Used(one.name, one.uses, one.known_days) for one in items]
        least = LEAST_NEW_DAYS if of[0].known_days < NEW_DAYS else 60
        found[case.name] = list(replay(of, as_of, every_days=7, least_days=least))
    return found


def _print(name: str, said: list[Said]) -> float:
    held = [float(np.mean([one.held(share) for one in said])) for share in SHARES]
    print(f"| {name} | {len(said)} | " + " | ".join(f"{100 * one:.1f}" for one in held) + " |", flush=True)
    return held[SHARES.index(0.9)]


def main() -> None:
    """Print the table; end with 1 where a limit is missed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    cases = _of_folder(parser.parse_args().folder)
    print("| history | said | " + " | ".join(f"of 100, {100 * share:g} %" for share in SHARES) + " |")
    print("|---" * (2 + len(SHARES)) + "|")
    for name, said in cases.items():
        _print(name, said)
    together = [_print("**together**", [one for said in cases.values() for one in said])]
    own = [one for of in histories().values() for one in replay(of, LAST_DAY, every_days=7)]
    together.append(_print("`tests/data`", own))
    if not all(LIMITS[0] <= one <= LIMITS[1] for one in together):
        sys.exit("90 % is missed by more than 4 of 100")


if __name__ == "__main__":
    main()
