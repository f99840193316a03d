"""How every child of the supervisor begins: ``python -m curehouse.commands.house.child ROLE …``.

It ties itself to its parent first and then becomes what its role says, in the same process.
"""

import argparse
import os
import sys
from importlib import import_module

from curehouse.commands.house.parent import KERNEL, OWN_WAY, WATCH, tie_to_parent

ROLES = ("web", "worker")


def main(words: list[str]) -> None:
    """Run one role until it is told to end by SIGTERM."""
    parser = argparse.ArgumentParser(prog="curehouse.commands.house.child")
    parser.add_argument("role", choices=ROLES)
    parser.add_argument("--parent", type=int, help="process id to die with (default: on its own)")
    parser.add_argument("--tie", choices=(KERNEL, WATCH), default=OWN_WAY)
    options, rest = parser.parse_known_args(words)
    if options.parent is not None:
        tie_to_parent(options.parent, options.tie)
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "curehouse.settings")
    # By name: the worker needs nothing of the web server in its memory, nor the other way round.
    role = import_module(f"curehouse.commands.house.roles.{options.role}")
    role.run(rest, tie=options.tie)


if __name__ == "__main__":
    main(sys.argv[1:])
