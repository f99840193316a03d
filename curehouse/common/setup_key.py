"""The key that opens the first-run page to another computer of the network."""

import base64

from django.utils.crypto import salted_hmac

LENGTH = 12


def setup_key() -> str:
    """Return the house's set-up key: 12 letters and digits (60 bits), the same at every start.

    It is derived from the secret key, so that `manage.py start` can print what the page asks for
    without anything being stored. Compare it with `constant_time_compare`.
    """
    digest = salted_hmac("curehouse.set-up", "first run", algorithm="sha256").digest()
    return base64.b32encode(digest).decode("ascii")[:LENGTH].lower()
