"""The cure: weighings of bars, the verdict on a batch, doubtful weights."""
