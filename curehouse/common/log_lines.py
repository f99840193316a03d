"""Lines of a log: each event is one of them, whatever came from outside stands in it.

What a fault says of itself may hold what somebody sent, so every line of a traceback is set in: nothing in it
begins as a line of the house does.
"""

import logging

_SET_IN = "  "


def shown(text: str) -> str:
    """Return *text* with what is no letter, sign or space written as its code, as ``ascii`` writes it."""
    if text.isprintable():
        return text
    return "".join(one if one.isprintable() or one == "\u00a0" else ascii(one)[1:-1] for one in text)


class LineFormatter(logging.Formatter):
    """Django's and our own lines, each with its moment, level and module."""

    def format(self, record: logging.LogRecord) -> str:
        """Return the event, with its fault if it has one; what another formatter made of that is not taken over."""
        kept, record.exc_text = record.exc_text, None
        try:
            return super().format(record)
        finally:
            record.exc_text = kept

    def formatMessage(self, record: logging.LogRecord) -> str:
        """Return the event on one line."""
        return shown(super().formatMessage(record))

    def formatException(self, ei: object) -> str:
        """Return a fault's traceback, set in."""
        return _set_in(super().formatException(ei))

    def formatStack(self, stack_info: str) -> str:
        """Return where an event came about, set in."""
        return _set_in(super().formatStack(stack_info))


def _set_in(text: str) -> str:
    return "\n".join(_SET_IN + shown(line) for line in text.split("\n"))
