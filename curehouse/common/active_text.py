"""Text that a browser or a shell would run if it were handed to one: web pages, SVG drawings, scripts.

What a page begins with is the table of the MIME Sniffing Standard (WHATWG, 7.1, "identifying a resource with
an unknown MIME type"), as a browser reads it that is not told what it gets.
"""

import re

# Browsers look at 1,445 bytes at most to tell what something is (MIME Sniffing Standard, 5.2).
LOOKED_AT_BYTES = 2048
_BEGINS = re.compile(
    r"""\ufeff?\s*(?:
        \#! | <!-- | <\?xml | <\?php | <%
        | <!doctype\b
        | <(?:html|head|script|iframe|h1|div|font|table|a|style|title|b|body|br|p|svg|xml|meta|link|math)[\s/>]
    )""",
    re.IGNORECASE | re.VERBOSE,
)
_HOLDS = re.compile(
    r"<!doctype\s+html\b|<\?php\b|</?(?:script|html|svg|iframe|object|embed|body|meta|link|style|base|applet|frameset)[\s/>:]"
    r"|\bjavascript:",
    re.IGNORECASE,
)


def begins_as_active(text: str) -> bool:
    """Whether *text* begins as a web page, a drawing, markup or a script does."""
    return _BEGINS.match(text) is not None


def is_active(text: str) -> bool:
    """Whether *text* begins so, or holds anywhere what a browser would run or load."""
    return begins_as_active(text) or _HOLDS.search(text) is not None


def has_active_head(content: bytes) -> bool:
    """Whether the bytes a browser looks at hold what it would run or load, whatever they begin with."""
    return _HOLDS.search(content[:LOOKED_AT_BYTES].decode("latin-1")) is not None
