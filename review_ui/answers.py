"""One shape for every answer that is not what was asked for: ``{"error": {"kind", "what", "advice", "more"}}``."""

from __future__ import annotations

import logging
from typing import Any

from pydantic import ValidationError
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse

from digitize.errors import (
    CalledWrongly,
    ConventionsWrong,
    DigitizeError,
    ManualWrong,
    NotFound,
    PageUnreadable,
    PartMissing,
)
from digitize.harness.edits import EditRefused, EditStale
from review_ui.intake import IntakeRefused

LOG = logging.getLogger("digitize.desk")

KINDS: tuple[tuple[type[DigitizeError], int, str], ...] = (
    (EditStale, 409, "stale"),
    (EditRefused, 422, "refused"),
    (NotFound, 404, "not_found"),
    (PageUnreadable, 422, "page_unreadable"),
    (ConventionsWrong, 422, "conventions_wrong"),
    (CalledWrongly, 422, "refused"),
    (IntakeRefused, 422, "not_taken"),
    (PartMissing, 503, "part_missing"),
    (ManualWrong, 500, "manual_wrong"),
)
"""Errors of ours with their HTTP status and the word for ``kind``; the first that fits counts."""

HTTP_WORDS = {
    400: ("wrong_request", "The request cannot be understood.", "Reload the page."),
    401: (
        "key_needed",
        "This desk asks for its access key.",
        "Open the address with ?key= that was printed when the desk was started.",
    ),
    403: (
        "forbidden",
        "This request did not come from the desk's own page.",
        "Open the desk by the address that it printed.",
    ),
    404: ("not_found", "There is nothing at this address.", "Start from the desk's first page."),
    405: ("wrong_method", "This address does not take such a request.", "Reload the page."),
    413: ("too_large", "The request is too large.", "Send less at once."),
    415: ("wrong_request", "Only JSON is taken here.", "Reload the page."),
}


def error_answer(status: int, kind: str, what: str, advice: str, more: dict[str, Any] | None = None) -> JSONResponse:
    """An error in the one shape."""
    body = {"error": {"kind": kind, "what": what, "advice": advice, "more": more or {}}}
    return JSONResponse(body, status, {"Cache-Control": "no-store"})


def http_error(status: int) -> JSONResponse:
    """The answer for a bare HTTP status."""
    kind, what, advice = HTTP_WORDS.get(status, ("unexpected", "The desk could not answer.", "Try again."))
    return error_answer(status, kind, what, advice)


async def on_http(_request: Request, fault: Exception) -> JSONResponse:
    """Starlette's own errors: no such address, wrong method."""
    assert isinstance(fault, HTTPException)
    return http_error(fault.status_code)


async def on_ours(_request: Request, fault: Exception) -> JSONResponse:
    """Errors of ours; a stale edit shows both versions."""
    assert isinstance(fault, DigitizeError)
    status, kind = next(((s, k) for type_, s, k in KINDS if isinstance(fault, type_)), (500, "fault"))
    more = {"mine": fault.mine, "theirs": fault.theirs} if isinstance(fault, EditStale) else {}
    return error_answer(status, kind, fault.what, fault.advice, more)


async def on_wrong_form(_request: Request, fault: Exception) -> JSONResponse:
    """A request that is not in the form it must have: all faults at once, each with its place."""
    assert isinstance(fault, ValidationError)
    faults = [
        {"place": ".".join(str(p) for p in e["loc"]), "what": e["msg"]}
        for e in fault.errors(include_url=False, include_input=False)
    ]
    listed = "; ".join(f"{f['place']}: {f['what']}" for f in faults[:5])
    return error_answer(
        400,
        "wrong_request",
        f"The request is not in the right form ({listed}).",
        "Correct what is named.",
        {"faults": faults},
    )


def unexpected(fault: Exception) -> JSONResponse:
    """A fault of the program: told without its insides, which go to the log."""
    LOG.error("unexpected fault at the desk", exc_info=fault)
    return error_answer(
        500,
        "unexpected",
        f"The desk met an unexpected fault ({type(fault).__name__}).",
        "Your edits are kept. Reload the page; if it comes again, report it.",
    )


HANDLERS: dict[Any, Any] = {
    HTTPException: on_http,
    DigitizeError: on_ours,
    ValidationError: on_wrong_form,
}
