"""The Bench: batches come in, and are found again."""

from django.urls import URLPattern, path

from curehouse.web.views import (
    batch_entry,
    bench,
    calendar,
    formula_cures,
    formula_size,
    formulas,
    markets,
    plan_run,
    pours,
    run_places,
    runs,
)

urlpatterns: list[URLPattern] = [
    path("bench/", bench.bench, name="bench"),
    path("batches/new/", batch_entry.batch_new, name="batch_new"),
    path("batches/water-share/", batch_entry.water_share, name="water_share"),
    path("batches/<int:pk>/cut/", batch_entry.batch_cut, name="batch_cut"),
    path("formulas/", formulas.formulas, name="formulas"),
    path("formulas/new/", formulas.formula_new, name="formula_new"),
    path("formulas/<int:pk>/", formulas.formula, name="formula"),
    path("formulas/<int:pk>/cures/", formula_cures.formula_cures, name="formula_cures"),
    path("formulas/<int:pk>/change/", formulas.formula_change, name="formula_change"),
    path("formulas/<int:pk>/retire/", formulas.formula_retire, name="formula_retire"),
    path("versions/<int:pk>/", formulas.formula_version, name="formula_version"),
    path("versions/<int:pk>/scale/", formula_size.version_scale, name="version_scale"),
    path("versions/<int:pk>/run/", plan_run.version_run, name="version_run"),
    path("calendar/", calendar.calendar, name="calendar"),
    path("markets/", markets.markets, name="markets"),
    path("markets/<int:pk>/", markets.market, name="market"),
    path("markets/<int:pk>/call-off/", markets.market_call_off, name="market_call_off"),
    path("versions/<int:pk>/pour/", pours.version_pour, name="version_pour"),
    path("pours/<int:pk>/", pours.pour, name="pour"),
    path("pours/<int:pk>/finish/", pours.pour_finish, name="pour_finish"),
    path("pours/<int:pk>/stop/", pours.pour_stop, name="pour_stop"),
    path("runs/", runs.runs, name="runs"),
    path("runs/<int:pk>/", runs.run, name="run"),
    path("runs/<int:pk>/move/", runs.run_move, name="run_move"),
    path("runs/<int:pk>/call-off/", runs.run_call_off, name="run_call_off"),
    path("runs/<int:pk>/reserve/", runs.run_reserve, name="run_reserve"),
    path("runs/<int:pk>/places/", run_places.run_places, name="run_places"),
    path("runs/<int:pk>/pour/", runs.run_pour, name="run_pour"),
]
