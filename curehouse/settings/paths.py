"""The data folder, and the secret that lives in it."""

import os
import secrets
from pathlib import Path

from curehouse.settings import env

REPOSITORY = Path(__file__).resolve().parents[2]
DATA_DIR = Path(env.text("CUREHOUSE_DATA") or REPOSITORY / "var").resolve()


def data_file(name: str) -> Path:
    """Return the path of *name* in the data folder; nothing is made by asking."""
    return DATA_DIR / name


def secret_key() -> str:
    """Return Django's secret key: from the environment, or made once and kept beside the data.

    The file is created readable by its owner only; two processes that start at once agree on
    the one that was linked into place first.
    """
    given = env.text("SECRET_KEY")
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
    return path.read_text(encoding="utf-8").strip()
