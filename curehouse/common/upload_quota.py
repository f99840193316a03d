"""How much one request may upload: what is over it is not written to the disk, and the view is told."""

from typing import Any

from django.core.files.uploadhandler import FileUploadHandler, StopUpload
from django.http import HttpRequest

# Two tables of the largest size that is taken, and the form around them.
MOST_UPLOADED_BYTES = 62 * 2**20
_FLAG = "_uploaded_too_much"


class QuotaUploadHandler(FileUploadHandler):
    """Stands before the handlers that keep files; stops the reading of a request that brings too much."""

    def __init__(self, request: HttpRequest | None = None) -> None:
        super().__init__(request)
        self._bytes = 0

    def handle_raw_input(
        self, input_data: Any, META: dict[str, Any], content_length: int, boundary: bytes, encoding: str | None = None
    ) -> None:
        """Note at once, by what the request says of its own length, that it is too long."""
        if content_length > MOST_UPLOADED_BYTES and self.request is not None:
            setattr(self.request, _FLAG, content_length)

    def receive_data_chunk(self, raw_data: bytes, start: int) -> bytes:
        """Hand the chunk on, unless there were too many."""
        self._bytes += len(raw_data)
        if self.request is not None and (hasattr(self.request, _FLAG) or self._bytes > MOST_UPLOADED_BYTES):
            setattr(self.request, _FLAG, max(getattr(self.request, _FLAG, 0), self._bytes))
            raise StopUpload(connection_reset=True)
        return raw_data

    def file_complete(self, file_size: int) -> None:
        """Leave the file to the handlers behind this one."""


def uploaded_too_much(request: HttpRequest) -> int:
    """Return how many bytes a request was going to bring if that was too many, or 0."""
    # Asking for the files has the request read.
    _ = request.FILES
    return getattr(request, _FLAG, 0)
