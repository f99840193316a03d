#!/usr/bin/env python
"""Door for the shell: every command of the house is listed by ``manage.py help``."""

import os
import sys

from django.core.exceptions import ImproperlyConfigured
from django.core.management import execute_from_command_line

from curehouse.commands.house.early import prepare
from curehouse.commands.house.refusal import Refused, leave


def main() -> None:
    """Run one command."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "curehouse.settings")
    # Settings are read at import: what they depend on is settled before.
    prepare(sys.argv)
    try:
        execute_from_command_line(sys.argv)
    except ImproperlyConfigured as error:
        leave(Refused(" ".join(str(error).split())))


if __name__ == "__main__":
    main()
