"""A certificate for a house on this computer, made with openssl."""

import subprocess
from pathlib import Path


def make_certificate(folder: Path) -> tuple[Path, Path]:
    """Return the files of a new certificate for 127.0.0.1 and of its key, in *folder*; the test needs ``openssl``."""
    pair = folder / "cert.pem", folder / "key.pem"
    words = ["req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", "/CN=localhost"]
    words += ["-addext", "subjectAltName=IP:127.0.0.1", "-out", str(pair[0]), "-keyout", str(pair[1])]
    subprocess.run(["openssl", *words], check=True, capture_output=True)
    return pair
