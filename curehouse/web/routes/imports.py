"""What people have kept so far comes in."""

from django.urls import URLPattern, path

from curehouse.web.views import imports

urlpatterns: list[URLPattern] = [
    path("imports/", imports.imports, name="imports"),
    path("imports/<int:pk>/", imports.import_, name="import"),
    path("imports/<int:pk>/bring/", imports.import_bring, name="import_bring"),
    path("imports/<int:pk>/progress/", imports.import_progress, name="import_progress"),
]
