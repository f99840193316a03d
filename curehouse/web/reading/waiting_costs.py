"""What waiting and ordering are reckoned at, in words."""

from curehouse.flows.waiting_costs import OF_BATCH, OF_DAY, OF_WORK, UNKNOWN_BATCH, WaitingCosts

_NAMES = {
    "late_batch": ("a batch that waits", OF_BATCH), "late_day": ("each day of it", OF_DAY),
    "order_work": ("the work of an order", OF_WORK),
}  # fmt: skip


def waiting_words(waiting: WaitingCosts, money: str) -> str:
    """Return at what it is reckoned, and where that comes from."""
    figures = f"{waiting.late_batch:f} {money}, and {waiting.late_day:f} {money} more for each day"
    said = f"A batch that waits is reckoned at {figures}, the work of an order at {waiting.order_work:f} {money}"
    return f"{said}: {_whence(waiting, money)}."


def reckoned_words(waiting: WaitingCosts, money: str) -> str:
    """Return what is reckoned with where the workshop leaves a figure empty."""
    shares = ", ".join(f"{float(100 * share):g}\u00a0% for {name}" for name, share in _NAMES.values())
    return f"Left empty, a figure is a share of what goes into a batch here: {shares}. {_batch_words(waiting, money)}"


def _batch_words(waiting: WaitingCosts, money: str) -> str:
    if waiting.batch_goods is None:
        return f"Too few batches tell that with all their costs yet, so {UNKNOWN_BATCH} {money} are taken for it."
    return f"That is {waiting.batch_goods:f} {money} now, in the median of the last two years."


def _whence(waiting: WaitingCosts, money: str) -> str:
    if len(waiting.said) == len(_NAMES):
        return "as your preferences say"
    what = "what goes into a batch here"
    goods = (
        f"{what}, {waiting.batch_goods:f} {money} in the median"
        if waiting.batch_goods is not None
        else f"{what}; as no batches tell it yet with all their costs, of {UNKNOWN_BATCH} {money}"
    )
    if waiting.said:
        return f"where your preferences say nothing, as a share of {goods}"
    return f"shares of {goods}. Your preferences can say otherwise"
