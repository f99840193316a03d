"""Today, the racks, a batch's cure, notices."""

from django.urls import path

from curehouse.web.views import (
    batch,
    batch_acts,
    batch_places,
    cut_notes,
    label,
    notices,
    past_forecasts,
    positions,
    racks,
    today,
    turning,
)

urlpatterns = [
    path("", today.today, name="today"),
    path("racks/", racks.racks, name="racks"),
    path("racks/new/", racks.rack_new, name="rack_new"),
    path("racks/<int:pk>/", racks.rack, name="rack"),
    path("turning/", turning.turning, name="turning"),
    path("past-forecasts/", past_forecasts.past_forecasts, name="past_forecasts"),
    path("positions/<int:pk>/", positions.position, name="position"),
    path("positions/<int:pk>/capacity/", positions.position_capacity, name="position_capacity"),
    path("positions/<int:pk>/place/", positions.position_place, name="position_place"),
    path("batches/<int:pk>/", batch.batch, name="batch"),
    path("batches/<int:pk>/record/", batch.batch_record, name="batch_record"),
    path("batches/<int:pk>/verdict/", batch.batch_verdict, name="batch_verdict"),
    path("batches/<int:pk>/place/", batch_places.batch_place, name="batch_place"),
    path("batches/<int:pk>/move/", batch_places.batch_move, name="batch_move"),
    path("batches/<int:pk>/turn/", batch_places.batch_turn, name="batch_turn"),
    path("batches/<int:pk>/cut-note/", cut_notes.batch_cut_note, name="batch_cut_note"),
    path("batches/<int:pk>/check/", batch_acts.batch_check, name="batch_check"),
    path("batches/<int:pk>/take-out/", batch_acts.batch_take_out, name="batch_take_out"),
    path("batches/<int:pk>/label/", label.batch_label, name="batch_label"),
    path("batches/<int:pk>/sample-bars/", batch_acts.batch_mark, name="batch_mark"),
    path("sample-bars/<int:pk>/gone/", batch_acts.bar_gone, name="bar_gone"),
    path("notices/", notices.notices, name="notices"),
    path("notices/folded/done/", notices.notices_folded_done, name="notices_folded_done"),
    path("notices/<int:pk>/done/", notices.notice_done, name="notice_done"),
]
