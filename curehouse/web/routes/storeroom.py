"""The Storeroom: materials, lots, suppliers, and what batches take from them."""

from django.urls import URLPattern, path

from curehouse.web.views import batch_use, facts, lots, materials, store_count, storeroom

urlpatterns: list[URLPattern] = [
    path("storeroom/", storeroom.storeroom, name="storeroom"),
    path("storeroom/receive/", storeroom.receive, name="receive"),
    path("storeroom/count/", store_count.store_count, name="store_count"),
    path("storeroom/count/end/", store_count.store_count_end, name="store_count_end"),
    path("lots/<int:pk>/walk/", store_count.lot_walk, name="lot_walk"),
    path("materials/new/", materials.material_new, name="material_new"),
    path("materials/<int:pk>/", materials.material, name="material"),
    path("materials/<int:pk>/edit/", materials.material_edit, name="material_edit"),
    path("materials/<int:pk>/retire/", materials.material_retire, name="material_retire"),
    path("materials/<int:pk>/facts/", facts.material_facts, name="material_facts"),
    path("storeroom/fats-and-liquids/", facts.catalogue, name="catalogue"),
    path("suppliers/", materials.suppliers, name="suppliers"),
    path("suppliers/<int:pk>/", materials.supplier, name="supplier"),
    path("suppliers/<int:pk>/retire/", materials.supplier_retire, name="supplier_retire"),
    path("lots/<int:pk>/", lots.lot, name="lot"),
    path("lots/<int:pk>/count/", lots.lot_count, name="lot_count"),
    path("lots/<int:pk>/write-off/", lots.lot_write_off, name="lot_write_off"),
    path("lots/<int:pk>/return/", lots.lot_give_back, name="lot_give_back"),
    path("lots/<int:pk>/more/", lots.lot_more, name="lot_more"),
    path("lots/<int:pk>/ruling/", lots.lot_rule, name="lot_rule"),
    path("lots/<int:pk>/papers/", lots.lot_correct, name="lot_correct"),
    path("lots/<int:pk>/value/", lots.lot_value, name="lot_value"),
    path("lots/<int:pk>/paper/", lots.lot_paper, name="lot_paper"),
    path("papers/<int:pk>/", lots.lot_file, name="lot_file"),
    path("movements/<int:pk>/take-back/", lots.movement_take_back, name="movement_take_back"),
    path("batches/<int:pk>/use/", batch_use.batch_use, name="batch_use"),
    path("holds/<int:pk>/lift/", batch_use.hold_lift, name="hold_lift"),
]
