"""What is typed of a market."""

from curehouse.selling.services import LONGEST_NAME, LONGEST_NOTE
from curehouse.web.forms.amounts import DayField
from curehouse.web.forms.fields import HouseForm, NameField, TextField


class MarketForm(HouseForm):
    """Where and when bars are wanted."""

    name = NameField(
        what="The market's name", longest=LONGEST_NAME, label="Name", help_text="A market, a fair, an order to fetch."
    )
    held_on = DayField(what="The day of the market", label="Day")
    note = TextField(what="The note", required=False, longest=LONGEST_NOTE, label="Note")
