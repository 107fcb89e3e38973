"""What is refused to a program, as problem details (RFC 9457)."""

from __future__ import annotations

import json
from collections.abc import Mapping
from http import HTTPStatus
from typing import TypedDict

from starlette.responses import Response

TYPE = "application/problem+json"


class ProblemShape(TypedDict):
    """RFC 9457: `title` is the status in words, `detail` a sentence that says what is wrong here."""

    type: str
    title: str
    status: int
    detail: str


class Refused(Exception):
    """Why an address does not answer with what it was asked for."""

    def __init__(self, status: int, detail: str, **headers: str) -> None:
        self.status, self.detail = status, detail
        self.headers = {name.replace("_", "-"): value for name, value in headers.items()}
        super().__init__(detail)


def problem(status: int, detail: str, headers: Mapping[str, str] | None = None) -> Response:
    """The answer that says so."""
    shape: ProblemShape = {
        "type": "about:blank",
        "title": HTTPStatus(status).phrase,
        "status": status,
        "detail": detail,
    }
    body = json.dumps(shape, ensure_ascii=False)
    return Response(body, status, dict(headers or {}), media_type=TYPE)
