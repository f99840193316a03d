"""The data folder: usable, and lived in by one house at a time."""

import fcntl
import os
import tempfile
from pathlib import Path

from curehouse.commands.house.refusal import Refused
from curehouse.commands.house.soundness import DATABASE

LOCK = "house.lock"
_TRIAL_BYTES = 64 * 1024


def check_usable(folder: Path) -> None:
    """Make *folder* (owner only) if it is new and try it out by writing a small file.

    Raises
    ------
    Refused
        The folder can't be made, or a file in it can't be written (rights, read-only or full disk).
    """
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile(dir=folder, prefix=".trial-") as trial:
            trial.write(b"\0" * _TRIAL_BYTES)
            trial.flush()
            os.fsync(trial.fileno())
    except OSError as error:
        raise Refused(
            f"the data folder {folder} can't be written ({error.strerror}); make room or rights"
            " there, or choose another with --data."
        ) from error


def check_lived_in(folder: Path) -> None:
    """Raise Refused if *folder* holds no database; nothing is made by looking."""
    if not (folder / DATABASE).exists():
        raise Refused(f"{folder} holds no house yet; start it once first, or choose it with --data.")


class FolderLock:
    """Held while this process lives; the kernel lets go of it however the process ends."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._file: int | None = None

    def take(self) -> None:
        """Take the lock.

        Raises
        ------
        Refused
            Another house lives in the folder.
        """
        descriptor = os.open(self._folder / LOCK, os.O_RDWR | os.O_CREAT, 0o600)
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as error:
            pid = os.pread(descriptor, 32, 0).decode("ascii", "replace").strip()
            os.close(descriptor)
            raise Refused(
                f"a house already lives in {self._folder} (process {pid or 'unknown'}); stop it"
                " first, or choose another folder with --data."
            ) from error
        os.ftruncate(descriptor, 0)
        os.pwrite(descriptor, f"{os.getpid()}\n".encode("ascii"), 0)
        self._file = descriptor
