"""The files for HTTPS, checked before anything starts."""

import ssl
from pathlib import Path

from curehouse.commands.house.refusal import Refused


def check_pair(certificate: Path | None, key: Path | None) -> bool:
    """Return whether HTTPS is asked for.

    Raises
    ------
    Refused
        One file without the other, a file that can't be read, or two that don't belong together.
    """
    if certificate is None and key is None:
        return False
    if certificate is None or key is None:
        missing = "--cert" if certificate is None else "--key"
        raise Refused(f"HTTPS needs both files: {missing} is missing.")
    for option, path in (("--cert", certificate), ("--key", key)):
        try:
            path.read_bytes()
        except OSError as error:
            raise Refused(f"{option} {path} can't be read ({error.strerror}).") from error
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    try:
        context.load_cert_chain(certificate, key, password=_no_password)
    except ssl.SSLError as error:
        if error.reason == "KEY_VALUES_MISMATCH":
            raise Refused(
                f"--key {key} doesn't belong to --cert {certificate}; give the two that were made together."
            ) from error
        raise Refused(
            f"--cert {certificate} and --key {key} can't be used; both must be PEM files"
            " (they begin with -----BEGIN), the certificate's chain in the first."
        ) from error
    return True


def _no_password() -> str:
    raise Refused("--key is locked with a password; the house starts unattended and needs one without.")
