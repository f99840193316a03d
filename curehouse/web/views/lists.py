"""Lists handed out as CSV and XLSX."""

import tempfile
from collections.abc import Callable

from django.http import FileResponse, HttpRequest, HttpResponseBase, StreamingHttpResponse
from django.utils.http import content_disposition_header
from django.utils.text import slugify
from django.views.decorators.http import require_safe

from curehouse.common.tables import csv_lines, write_xlsx
from curehouse.web.access import Visit, for_members
from curehouse.web.lists.table import ListOut
from curehouse.web.reading.days import Calendar

_XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
# Lists up to this size are made in memory, larger ones in a file that goes with the answer.
_IN_MEMORY_BYTES = 2**22


def handed_out(listed: ListOut, ending: str) -> Callable[..., HttpResponseBase]:
    """Return the view that hands a list out with an ending, ``csv`` or ``xlsx``."""

    @require_safe
    @for_members(needs=listed.needs)
    def view(request: HttpRequest, visit: Visit, pk: int | None = None) -> HttpResponseBase:
        table = listed.read(visit, request.GET, pk)
        day = Calendar(visit.workshop, visit.at).today
        name = f"{slugify(visit.workshop.name) or 'workshop'}-{slugify(listed.title)}-{day.isoformat()}.{ending}"
        if ending == "csv":
            lines = csv_lines(table.headers, table.rows)
            answer: HttpResponseBase = StreamingHttpResponse(lines, content_type="text/csv; charset=utf-8")
        else:
            file = tempfile.SpooledTemporaryFile(max_size=_IN_MEMORY_BYTES)  # noqa: SIM115  (the answer closes it)
            write_xlsx(file, title=listed.title, headers=table.headers, rows=table.rows)
            file.seek(0)
            answer = FileResponse(file, content_type=_XLSX)
        answer.headers["Content-Disposition"] = content_disposition_header(as_attachment=True, filename=name)
        return answer

    return view
