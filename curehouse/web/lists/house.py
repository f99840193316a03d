"""Notices, scales, devices, and the files that were brought in."""

from django.http import QueryDict

from curehouse.common.errors import Invalid
from curehouse.flows.bring_in.outcome import outcome_of
from curehouse.intake.models import Import
from curehouse.notices.models import Notice
from curehouse.web.access import Visit
from curehouse.web.forms.trail import TrailForm
from curehouse.web.lists.table import ListOut, TableOut, mass, wall
from curehouse.web.reading.imports import kind_label, mark_of_import
from curehouse.workshops.models import DeviceToken, Member, Scale, ScaleCheck, ScaleTare
from curehouse.workshops.roles import Right


def _notices(visit: Visit, _query: QueryDict, _pk: int | None) -> TableOut:
    rows = Notice.objects.within(visit.workshop).newest_first()
    lines = (
        [wall(row.written_at, visit), row.title, row.body, row.get_state_display(), wall(row.closed_at, visit), row.closed_why]
        for row in rows.iterator(chunk_size=500)
    )
    return TableOut(("Written", "Notice", "What it says", "It is", "Ended", "Why"), lines)


def _scales(visit: Visit, _query: QueryDict, _pk: int | None) -> TableOut:
    rows = Scale.objects.within(visit.workshop).order_by("pk")
    lines = ([row.name, mass(row.step_g, visit), wall(row.retired_at, visit)] for row in rows)
    return TableOut(("Scale", f"Step, {visit.workshop.unit}", "Out of use since"), lines)


def _scale(visit: Visit, pk: int | None) -> Scale:
    return Scale.objects.within(visit.workshop).get_here(pk or 0, what="scale")


def _scale_checks(visit: Visit, _query: QueryDict, pk: int | None) -> TableOut:
    scale, unit = _scale(visit, pk), visit.workshop.unit
    rows = ScaleCheck.objects.within(visit.workshop).filter(scale=scale).order_by("-at", "-pk")
    lines = (
        [scale.name, wall(row.at, visit), mass(row.test_weight_g, visit), mass(row.shown_g, visit), row.signed_by]
        for row in rows.select_related("by_user", "by_device")
    )
    return TableOut(("Scale", "When", f"Test weight, {unit}", f"It showed, {unit}", "By"), lines)


def _tares(visit: Visit, _query: QueryDict, pk: int | None) -> TableOut:
    scale = _scale(visit, pk)
    rows = ScaleTare.objects.within(visit.workshop).filter(scale=scale, retired_at__isnull=True).order_by("name")
    return TableOut(
        ("Scale", "Tare", f"Weight, {visit.workshop.unit}"), ([scale.name, row.name, mass(row.weight_g, visit)] for row in rows)
    )


def _devices(visit: Visit, _query: QueryDict, _pk: int | None) -> TableOut:
    rows = DeviceToken.objects.within(visit.workshop).select_related("made_by").order_by("-pk")
    lines = (
        [
            row.name,
            row.get_reach_display(),
            row.hint,
            wall(row.made_at, visit),
            row.made_by.name,
            wall(row.last_used_at, visit),
            wall(row.revoked_at, visit),
        ]
        for row in rows
    )
    return TableOut(("Device", "It may do", "Its token begins", "Let in", "By", "Last seen", "Shut out"), lines)


def _imports(visit: Visit, _query: QueryDict, _pk: int | None) -> TableOut:
    rows = Import.objects.within(visit.workshop).newest_first().select_related("by_user", "by_device")
    lines = (
        [row.name, kind_label(row), wall(row.laid_out_at, visit), mark_of_import(row.state).word, row.said, row.signed_by]
        for row in rows
    )
    return TableOut(("File", "It holds", "Laid out", "It is", "Said of it", "By"), lines)


def _refused(visit: Visit, _query: QueryDict, pk: int | None) -> TableOut:
    brought = Import.objects.within(visit.workshop).get_here(pk or 0, what="import")
    if brought.outcome is None:
        raise Invalid("not_checked", f"{brought} has not been checked yet.")
    lines = ([one.table, one.row, one.cell, one.header, one.value, one.why] for one in outcome_of(brought.outcome).refusals)
    return TableOut(("Table", "Row", "Cell", "Column", "Value", "Why"), lines)


def _people(visit: Visit, _query: QueryDict, _pk: int | None) -> TableOut:
    rows = Member.objects.ever_within(visit.workshop).by_name()
    lines = (
        [row.user.name, row.user.email, row.get_role_display(), wall(row.joined_at, visit), wall(row.left_at, visit)]
        for row in rows
    )
    return TableOut(("Name", "E-mail address", "Here as", "Joined", "Left"), lines)


def _trail(visit: Visit, query: QueryDict, _pk: int | None) -> TableOut:
    rows = TrailForm(query or None, workshop=visit.workshop).found()
    lines = (
        [
            wall(row.at, visit),
            row.signed_by,
            row.signed_as,
            row.said,
            row.address,
            row.from_address,
            row.from_device,
            row.code,
        ]
        for row in rows.iterator(chunk_size=500)
    )
    return TableOut(("When", "Who", "Kept as", "What", "Page", "From address", "From device", "Code"), lines)


LISTS = (
    ListOut("trail", "workshop/trail", "Who did what", _trail, Right.KEEP_HOUSE),
    ListOut("people", "people", "People", _people, Right.KEEP_HOUSE),
    ListOut("notices", "notices/all", "Notices", _notices, Right.SEE),
    ListOut("scales", "workshop/scales", "Scales", _scales, Right.SEE),
    ListOut("scale_checks", "workshop/scales/<int:pk>/checks", "Scale checks", _scale_checks, Right.SEE),
    ListOut("tares", "workshop/scales/<int:pk>/tares", "Tares", _tares, Right.SEE),
    ListOut("devices", "workshop/devices", "Devices", _devices, Right.KEEP_HOUSE),
    ListOut("imports", "imports", "Files brought in", _imports, Right.MAKE),
    ListOut("import_refused", "imports/<int:pk>/refused", "Refused rows", _refused, Right.MAKE),
)
