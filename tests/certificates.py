"""A certificate for a house on this computer, made with openssl."""

import shutil
import subprocess
from pathlib import Path

import pytest

OPENSSL = shutil.which("openssl")
needs_openssl = pytest.mark.skipif(OPENSSL is None, reason="no openssl on the PATH to make a certificate with")


def make_certificate(folder: Path) -> tuple[Path, Path]:
    """Return the files of a new certificate for 127.0.0.1 and of its key, in *folder*."""
    assert OPENSSL is not None
    pair = folder / "cert.pem", folder / "key.pem"
    words = ["req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", "/CN=localhost"]
    words += ["-addext", "subjectAltName=IP:127.0.0.1", "-out", str(pair[0]), "-keyout", str(pair[1])]
    subprocess.run([OPENSSL, *words], check=True, capture_output=True)
    return pair
