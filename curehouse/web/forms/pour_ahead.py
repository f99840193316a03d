"""What is asked of a pour that is still to come."""

from curehouse.web.forms.amounts import DayField
from curehouse.web.forms.fields import HouseForm


class PourAheadForm(HouseForm):
    """A day to pour on, or one by which the bars are wanted, or both."""

    pour_on = DayField(what="The day of the pour", required=False, label="Pour on")
    wanted_on = DayField(what="The day the bars are wanted", required=False, label="Bars wanted by")
