"""Rooms, and the log of their air."""

from django.urls import URLPattern, path

from curehouse.web.views import rooms

urlpatterns: list[URLPattern] = [
    path("rooms/", rooms.rooms, name="rooms"),
    path("rooms/air/", rooms.room_air, name="room_air"),
    path("rooms/<int:pk>/", rooms.room, name="room"),
    path("room-readings/<int:pk>/withdraw/", rooms.air_withdraw, name="air_withdraw"),
    path("racks/<int:pk>/room/", rooms.rack_room, name="rack_room"),
]
