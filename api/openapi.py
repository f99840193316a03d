"""How views are described in the schema."""

from typing import Any

from drf_spectacular.openapi import AutoSchema


class Described(AutoSchema):
    """As REST framework's views are; but what a POST answers in rows is a plain list, not a page of one."""

    def _get_paginator(self) -> Any:
        return super()._get_paginator() if self.method == "GET" else None
