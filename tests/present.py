"""What a test may need beside Python, and whether it is present on this computer."""

import os
import shutil
from collections.abc import Callable
from functools import cache, partial

import psycopg
import redis

POSTGRES_URL = os.environ.get("TEST_POSTGRES_URL", "postgresql://postgres@127.0.0.1:5432/postgres")
REDIS_URL = os.environ.get("TEST_REDIS_URL", "redis://127.0.0.1:6379/15")


def _postgresql() -> bool:
    try:
        psycopg.connect(POSTGRES_URL, connect_timeout=10).close()
    except psycopg.OperationalError:
        return False
    return True


def _redis() -> bool:
    client = redis.Redis.from_url(REDIS_URL, socket_connect_timeout=10)
    try:
        return bool(client.ping())
    except redis.RedisError:
        return False
    finally:
        client.close()


def chromium() -> str | None:
    """Return the path of the browser, or None."""
    return os.environ.get("TEST_CHROMIUM") or shutil.which("chromium")


_LOOK: dict[str, tuple[Callable[[], object], str]] = {
    "postgresql": (_postgresql, f"no PostgreSQL answers at {POSTGRES_URL} (TEST_POSTGRES_URL)"),
    "redis": (_redis, f"no Redis answers at {REDIS_URL} (TEST_REDIS_URL)"),
    "openssl": (partial(shutil.which, "openssl"), "no openssl on the PATH to make a certificate with"),
    "chromium": (chromium, "no chromium on the PATH (TEST_CHROMIUM)"),
}


@cache
def missing(what: str) -> str | None:
    """Return why *what* cannot be used here, or None if it is present; unknown names raise ``KeyError``."""
    is_present, reason = _LOOK[what]
    return None if is_present() else reason
