"""The cure forecast: a drying curve for every batch, learnt from the workshop's own batches.

Needs NumPy; nothing outside this package imports it but who forecasts.
"""
