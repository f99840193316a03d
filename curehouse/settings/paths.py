"""The data folder, and the secret that lives in it."""

import os
import secrets
from contextlib import suppress
from pathlib import Path

from django.core.exceptions import ImproperlyConfigured

from curehouse.settings import env

REPOSITORY = Path(__file__).resolve().parents[2]
DATA_DIR = Path(env.text("CUREHOUSE_DATA") or REPOSITORY / "var").resolve()

# 128 bits, written as hexadecimal digits; and no row of one key.
_SHORTEST_SECRET, _FEWEST_LETTERS = 32, 8
_OTHERS = 0o077


def data_file(name: str) -> Path:
    """Return the path of *name* in the data folder; nothing is made by asking."""
    return DATA_DIR / name


def given_secret() -> str:
    """Return the secret key of the environment, or nothing; raise ImproperlyConfigured for one that could be guessed.

    Whoever has it makes the set-up key, and the cookie of a browser that is known here.
    """
    given = env.text("SECRET_KEY")
    if given and (len(given) < _SHORTEST_SECRET or len(set(given)) < _FEWEST_LETTERS):
        raise ImproperlyConfigured(
            f"SECRET_KEY could be guessed: make it {_SHORTEST_SECRET} letters or more that nobody chose"
            ' (python -c "import secrets; print(secrets.token_urlsafe(48))"), or unset it and the house makes its own.'
        )
    return given


def secret_key() -> str:
    """Return Django's secret key: from the environment, or made once and kept beside the data.

    The file is readable by its owner only, also where it was copied in otherwise; two processes
    that start at once agree on the one that was linked into place first.
    """
    given = given_secret()
    if given:
        return given
    path = data_file("secret-key")
    if not path.exists():
        DATA_DIR.mkdir(mode=0o700, parents=True, exist_ok=True)
        draft = path.with_name(f"secret-key.{os.getpid()}")
        draft.touch(mode=0o600)
        draft.write_text(secrets.token_urlsafe(48), encoding="utf-8")
        try:
            os.link(draft, path)
        except FileExistsError:
            pass
        finally:
            draft.unlink()
    if path.stat().st_mode & _OTHERS:
        # On a disk that knows no rights, or of another owner, it serves as it is.
        with suppress(PermissionError):
            path.chmod(0o600)
    return path.read_text(encoding="utf-8").strip()
