"""SQLite in the data folder by default, PostgreSQL by DATABASE_URL."""

from typing import Any

import environ

from curehouse.settings import env
from curehouse.settings.addresses import check_database
from curehouse.settings.paths import data_file

# IMMEDIATE takes the write lock at the start of a transaction: with WAL alone, transactions that
# read first and write later fail with "database is locked" however long they wait.
# recursive_triggers: without it, INSERT OR REPLACE deletes past the guards of a ledger.
# FULL: a weight that was answered is still there after a power cut.
_SQLITE_OPTIONS = {
    "transaction_mode": "IMMEDIATE",
    "timeout": 20,
    "init_command": (
        "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; PRAGMA foreign_keys=ON;"
        "PRAGMA recursive_triggers=ON;"
        "PRAGMA cache_size=-4000; PRAGMA temp_store=MEMORY"
    ),
}


def databases() -> dict[str, dict[str, Any]]:
    """Return Django's DATABASES."""
    url = env.text("DATABASE_URL")
    if url:
        check_database(url)
        config = dict(environ.Env.db_url_config(url))
        config["CONN_MAX_AGE"] = 60
        config["CONN_HEALTH_CHECKS"] = True
    else:
        config = {
            "ENGINE": "django.db.backends.sqlite3",
            "NAME": str(data_file("curehouse.sqlite3")),
            "CONN_MAX_AGE": None,
        }
    if config["ENGINE"].endswith("sqlite3"):
        config["OPTIONS"] = dict(_SQLITE_OPTIONS)
    return {"default": config}
