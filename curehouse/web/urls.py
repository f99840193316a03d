"""Every page of the house, room by room."""

from curehouse.web.routes import bench, door, imports, lists, racks, rooms, round, storeroom

app_name = "web"
urlpatterns = [
    *door.urlpatterns,
    *bench.urlpatterns,
    *racks.urlpatterns,
    *round.urlpatterns,
    *imports.urlpatterns,
    *rooms.urlpatterns,
    *storeroom.urlpatterns,
    *lists.urlpatterns,
]
