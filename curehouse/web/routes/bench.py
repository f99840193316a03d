"""The Bench: batches come in, and are found again."""

from django.urls import URLPattern, path

from curehouse.web.views import batch_entry, bench

urlpatterns: list[URLPattern] = [
    path("bench/", bench.bench, name="bench"),
    path("batches/new/", batch_entry.batch_new, name="batch_new"),
    path("batches/water-share/", batch_entry.water_share, name="water_share"),
    path("batches/<int:pk>/cut/", batch_entry.batch_cut, name="batch_cut"),
]
