"""What the set-up and the preferences let people choose from."""

from functools import cache
from itertools import groupby
from zoneinfo import available_timezones

WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
WEEKDAY_CHOICES = [(str(number), name) for number, name in enumerate(WEEKDAYS)]

# ISO 4217 codes; whoever counts in another currency types its code.
OTHER_CURRENCY = "other"
CURRENCIES = {
    "EUR": "euro",
    "USD": "US dollar",
    "GBP": "pound sterling",
    "CAD": "Canadian dollar",
    "AUD": "Australian dollar",
    "NZD": "New Zealand dollar",
    "CHF": "Swiss franc",
    "DKK": "Danish krone",
    "SEK": "Swedish krona",
    "NOK": "Norwegian krone",
    "ISK": "Icelandic króna",
    "PLN": "Polish złoty",
    "CZK": "Czech koruna",
    "HUF": "Hungarian forint",
    "RON": "Romanian leu",
    "TRY": "Turkish lira",
    "ILS": "Israeli new shekel",
    "ZAR": "South African rand",
    "INR": "Indian rupee",
    "JPY": "Japanese yen",
    "MXN": "Mexican peso",
    "BRL": "Brazilian real",
}
CURRENCY_CHOICES = [
    ("", "Choose…"),
    *((code, f"{code}, {name}") for code, name in CURRENCIES.items()),
    (OTHER_CURRENCY, "another currency"),
]

_REGIONS = {"Africa", "America", "Antarctica", "Arctic", "Asia", "Atlantic", "Australia", "Europe", "Indian", "Pacific"}


@cache
def time_zones() -> list[tuple[str, list[tuple[str, str]]]]:
    """Return the IANA time zones by region, each with the place it is named after."""
    names = sorted(name for name in available_timezones() if name.split("/")[0] in _REGIONS)
    regions = groupby(names, key=lambda name: name.split("/")[0])
    listed = [(region, [(name, name.split("/", 1)[1].replace("_", " ")) for name in inside]) for region, inside in regions]
    return [*listed, ("No place", [("UTC", "UTC")])]


def time_zone_choices(kept: str = "") -> list[tuple[str, object]]:
    """Return the choices of a time zone; one that was *kept* is among them under whatever name."""
    groups = time_zones()
    known = {name for _region, zones in groups for name, _place in zones}
    now = [(kept, kept)] if kept and kept not in known else []
    return [("", "Choose…"), *now, *groups]
