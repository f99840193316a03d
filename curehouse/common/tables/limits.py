"""How much of a file is taken: far above what a workshop keeps in ten years, far below what hurts."""

from curehouse.common.errors import Invalid

MEGABYTE = 2**20
MOST_BYTES = 30 * MEGABYTE
MOST_ROWS = 100_000
MOST_COLUMNS = 200
MOST_CHARACTERS = 10_000
MOST_SHEETS = 100

# An XLSX file is a packed folder: what it unpacks to is bounded as well.
MOST_PARTS = 2_000
# No spreadsheet program keeps a row below this one.
LAST_ROW = 2**20
MOST_UNPACKED_BYTES = 300 * MEGABYTE
# XML of real sheets packs to a tenth or a thirtieth; a bomb to a thousandth.
MOST_PACKED_TO = 200


def too_large(size_bytes: int) -> Invalid:
    """Return what to say of a file of that size."""
    return Invalid(
        "too_large",
        f"The file has {size_bytes / MEGABYTE:.0f} MB, and up to {MOST_BYTES // MEGABYTE} MB are taken: "
        "split it, or leave out the sheets and pictures that are not needed.",
        field="file",
    )


def too_many_rows() -> Invalid:
    """Return what to say of a table that is too long."""
    return Invalid("too_many_rows", f"The table has more than {MOST_ROWS:,} rows: split it into several files.", field="file")


def too_many_columns() -> Invalid:
    """Return what to say of a table that is too wide."""
    return Invalid(
        "too_many_columns",
        f"The table has more than {MOST_COLUMNS} columns: leave out what is not needed.",
        field="file",
    )
