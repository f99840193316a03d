"""How much one request may upload: what is over it is not written to the disk, and the view is told.

A view says that it takes files, and how much of them; what is sent anywhere else is read away and kept nowhere,
so that a form without a file (the door's own among them) cannot be used to fill the disk.
"""

from collections.abc import Callable
from typing import Any, TypeVar

from django.core.files.uploadhandler import FileUploadHandler, SkipFile, StopUpload
from django.http import HttpRequest

_FLAG, _MOST = "_uploaded_too_much", "most_upload_bytes"
# What a form takes beside its files.
BESIDE_THE_FILES_BYTES = 64 * 1024
# Of what is too much so much is read and dropped, for a browser shows no answer to a request it could not end.
READ_AWAY_BYTES = 256 * 2**20
_View = TypeVar("_View", bound=Callable[..., Any])


def takes_files(*, most_bytes: int) -> Callable[[_View], _View]:
    """Let a page take files, all of a request's together of at most so many bytes."""

    def told(view: _View) -> _View:
        setattr(view, _MOST, most_bytes)
        return view

    return told


def most_upload_bytes(view: Any) -> int:
    """Return how many bytes of files a view of the URL table takes, 0 where it takes none."""
    return getattr(view, _MOST, 0) or getattr(getattr(view, "cls", None), "most_bytes", 0)


class QuotaUploadHandler(FileUploadHandler):
    """Stands before the handlers that keep files; stops the reading of a request that brings too much."""

    def __init__(self, request: HttpRequest | None = None) -> None:
        super().__init__(request)
        self._bytes = self._length = 0
        match = request.resolver_match if request is not None else None
        self._taken = most_upload_bytes(match.func) if match is not None else 0
        self._most = self._taken + BESIDE_THE_FILES_BYTES

    def handle_raw_input(
        self, input_data: Any, META: dict[str, Any], content_length: int, boundary: bytes, encoding: str | None = None
    ) -> None:
        """Note at once, by what the request says of its own length, that it is too long."""
        self._length = content_length
        if content_length > self._most:
            setattr(self.request, _FLAG, content_length)

    def new_file(self, *args: Any, **kwargs: Any) -> None:
        """Pass a file over where none is taken, and keep nothing where there is too much."""
        super().new_file(*args, **kwargs)
        if hasattr(self.request, _FLAG):
            raise self._stop()
        if not self._taken:
            raise SkipFile

    def receive_data_chunk(self, raw_data: bytes, start: int) -> bytes:
        """Hand the chunk on, unless there were too many."""
        self._bytes += len(raw_data)
        if hasattr(self.request, _FLAG) or self._bytes > self._most:
            setattr(self.request, _FLAG, max(getattr(self.request, _FLAG, 0), self._bytes))
            raise self._stop()
        return raw_data

    def _stop(self) -> StopUpload:
        return StopUpload(connection_reset=self._length > READ_AWAY_BYTES)

    def file_complete(self, file_size: int) -> None:
        """Leave the file to the handlers behind this one."""


def uploaded_too_much(request: HttpRequest) -> int:
    """Return how many bytes a request was going to bring if that was too many, or 0."""
    # Asking for the files has the request read.
    _ = request.FILES
    return getattr(request, _FLAG, 0)
