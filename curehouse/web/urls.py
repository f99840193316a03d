"""Every page of the house, room by room."""

from curehouse.web.routes import bench, door, imports, racks, round

app_name = "web"
urlpatterns = [*door.urlpatterns, *bench.urlpatterns, *racks.urlpatterns, *round.urlpatterns, *imports.urlpatterns]
