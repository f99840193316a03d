"""What a page may load and do (Content Security Policy Level 3): nothing but what the house itself serves.

A script runs if its tag carries the nonce of this one answer; nothing stands inline, so neither styles nor
handlers in attributes are let through, and a file somebody attached is no script.
"""

from csp.constants import NONCE, NONE, SELF

__all__ = ["CONTENT_SECURITY_POLICY"]

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [NONCE],
        "style-src": [SELF],
        "img-src": [SELF],
        # What htmx and the round ask for while a page is open.
        "connect-src": [SELF],
        "manifest-src": [SELF],
        "form-action": [SELF],
        "base-uri": [NONE],
        "object-src": [NONE],
        "frame-ancestors": [NONE],
    },
}
