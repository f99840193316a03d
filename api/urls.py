"""Every address of the API; whatever else begins like one is answered as a problem, never as a page."""

from django.urls import include, path, re_path

from api import (
    assessments,
    batches,
    bulk,
    checks,
    docs,
    notices,
    placements,
    positions,
    racks,
    readings,
    sample_bars,
    scales,
    take_outs,
    workshop,
)
from api.errors import nothing_here

app_name = "api"

_version_1 = [
    path("workshop/", workshop.TheWorkshop.as_view(), name="workshop"),
    path("scales/", scales.Scales.as_view(), name="scales"),
    path("scales/<int:pk>/", scales.OneScale.as_view(), name="scale"),
    path("scales/<int:pk>/checks/", scales.ScaleChecks.as_view(), name="scale-checks"),
    path("scales/<int:pk>/tares/", scales.ScaleTares.as_view(), name="scale-tares"),
    path("tares/<int:pk>/retire/", scales.RetireTare.as_view(), name="tare-retire"),
    path("batches/", batches.Batches.as_view(), name="batches"),
    path("batches/<int:pk>/", batches.OneBatch.as_view(), name="batch"),
    path("batches/<int:pk>/cut/", batches.Cut.as_view(), name="batch-cut"),
    path("batches/<int:pk>/checks/", checks.Checks.as_view(), name="batch-checks"),
    path("batches/<int:pk>/take-outs/", take_outs.TakeOuts.as_view(), name="batch-take-outs"),
    path("batches/<int:pk>/assessments/", assessments.AssessmentsOfBatch.as_view(), name="batch-assessments"),
    path("sample-bars/", sample_bars.SampleBars.as_view(), name="sample-bars"),
    path("sample-bars/<int:pk>/", sample_bars.OneSampleBar.as_view(), name="sample-bar"),
    path("sample-bars/<int:pk>/end/", sample_bars.EndSampleBar.as_view(), name="sample-bar-end"),
    path("readings/", readings.Readings.as_view(), name="readings"),
    path("readings/bulk/", bulk.ManyReadings.as_view(), name="readings-bulk"),
    path("readings/<int:pk>/", readings.OneReading.as_view(), name="reading"),
    path("readings/<int:pk>/keep/", readings.Keep.as_view(), name="reading-keep"),
    path("readings/<int:pk>/correct/", readings.Correct.as_view(), name="reading-correct"),
    path("readings/<int:pk>/strike/", readings.Strike.as_view(), name="reading-strike"),
    path("racks/", racks.Racks.as_view(), name="racks"),
    path("racks/<int:pk>/", racks.OneRack.as_view(), name="rack"),
    path("positions/", positions.Positions.as_view(), name="positions"),
    path("positions/<int:pk>/", positions.OnePosition.as_view(), name="position"),
    path("placements/", placements.Placements.as_view(), name="placements"),
    path("placements/move/", placements.Move.as_view(), name="placements-move"),
    path("placements/turn/", placements.Turn.as_view(), name="placements-turn"),
    path("assessments/", assessments.Assessments.as_view(), name="assessments"),
    path("assessments/<int:pk>/", assessments.OneAssessment.as_view(), name="assessment"),
    path("notices/", notices.Notices.as_view(), name="notices"),
    path("notices/<int:pk>/", notices.OneNotice.as_view(), name="notice"),
    path("notices/<int:pk>/attend/", notices.Attend.as_view(), name="notice-attend"),
]

urlpatterns = [
    path("v1/", include(_version_1)),
    path("schema/", docs.Schema.as_view(), name="schema"),
    path("docs/", docs.Docs.as_view(), name="docs"),
    re_path(r"^(?P<rest>.*)$", nothing_here),
]
