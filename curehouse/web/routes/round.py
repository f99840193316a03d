"""The round and single weighings."""

from django.urls import URLPattern, path

from curehouse.web.views import readings, round

urlpatterns: list[URLPattern] = [
    path("round/", round.round_start, name="round"),
    path("round/end/", round.round_end, name="round_end"),
    path("round/<int:pk>/", round.round_bar, name="round_bar"),
    path("round/<int:pk>/gone/", round.round_gone, name="round_gone"),
    path("readings/<int:pk>/", readings.reading_correct, name="reading_correct"),
    path("readings/<int:pk>/take/", readings.reading_take, name="reading_take"),
    path("readings/<int:pk>/keep/", readings.reading_keep, name="reading_keep"),
    path("readings/<int:pk>/strike/", readings.reading_strike, name="reading_strike"),
]
