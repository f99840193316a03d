"""Every page of the house, room by room."""

from curehouse.web.routes import bench, door, imports, racks, round, storeroom

app_name = "web"
urlpatterns = [
    *door.urlpatterns,
    *bench.urlpatterns,
    *racks.urlpatterns,
    *round.urlpatterns,
    *imports.urlpatterns,
    *storeroom.urlpatterns,
]
