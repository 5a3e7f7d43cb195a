"""The desk's addresses. Everything a person can see or do has one; all answers are JSON but tiles and crops."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any
from urllib.parse import unquote

from pydantic_core import to_json
from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect, Request
from starlette.responses import Response
from starlette.routing import Route

from digitize.harness.place import Box
from digitize.legend.conventions import conventions_from
from review_ui.answers import http_error
from review_ui.guard import HAND_IN
from review_ui.orders import DRAFT, HANDED, MOVE, READ, REQUEST
from review_ui.prints import PRINTS

if TYPE_CHECKING:
    from review_ui.desk import Desk

FRESH = {"Cache-Control": "no-store"}
KEPT = {"Cache-Control": "private, max-age=31536000, immutable"}
"""Tiles are asked for with the mark of their source, so they never change."""

LONGEST_QUERY = 200
MOST_DOUBTS = 500


class Quick(Response):
    """JSON by pydantic's writer: a sheet of 30,000 wires is 9 MB, for which the standard one takes four times as long."""

    media_type = "application/json"

    def render(self, content: Any) -> bytes:
        """The body."""
        return to_json(content)


def _desk(request: Request) -> Desk:
    desk: Desk = request.app.state.desk
    return desk


def _who(request: Request) -> str:
    """Who is at the desk, as the page says; kept with each edit."""
    name = unquote(request.headers.get("x-desk-who", "")).strip()
    return " ".join(name.split())[:60] or "somebody"


def pile(request: Request) -> Response:
    """Only the list of sheets."""
    return Quick(_desk(request).pile(), headers=FRESH)


def overview(request: Request) -> Response:
    """The manual, its sheets and their progress."""
    return Quick(_desk(request).overview(), headers=FRESH)


def ground(request: Request) -> Response:
    """Size, tiles and zones of a sheet."""
    return Quick(_desk(request).ground(request.path_params["sheet"]), headers=FRESH)


def overlay(request: Request) -> Response:
    """What was read of a sheet."""
    return Quick(_desk(request).overlay(request.path_params["sheet"]), headers=FRESH)


def overleaf(request: Request) -> Response:
    """Where a sheet goes on at its edges; ``of`` narrows it to a wire or a page edge."""
    of = request.query_params.get("of") or None
    return Quick(_desk(request).overleaf(request.path_params["sheet"], of), headers=FRESH)


def tile(request: Request) -> Response:
    """One tile of a sheet's scan."""
    p = request.path_params
    jpeg = _desk(request).manual.tile(p["sheet"], p["level"], p["x"], p["y"])
    _desk(request).looked_at.set()
    return http_error(404) if jpeg is None else Response(jpeg, media_type="image/jpeg", headers=KEPT)


def crop(request: Request) -> Response:
    """A part of a scan: ``box=x0,y0,x1,y1`` in sheet mm, ``margin`` mm around it."""
    try:
        x0, y0, x1, y1 = (float(v) for v in request.query_params["box"].split(","))
        margin = min(50.0, max(0.0, float(request.query_params.get("margin", "4"))))
    except (KeyError, ValueError):
        return http_error(400)
    if not (x0 <= x1 and y0 <= y1 and x1 - x0 < 3000 and y1 - y0 < 3000):
        return http_error(400)
    jpeg = _desk(request).crop(request.path_params["sheet"], Box(x0, y0, x1, y1), margin)
    return Response(jpeg, media_type="image/jpeg", headers=FRESH)


def doubts(request: Request) -> Response:
    """The queue; ``sheet`` narrows it, ``most`` says how many."""
    most = request.query_params.get("most", "50")
    if not most.isdecimal():
        return http_error(400)
    return Quick(_desk(request).queue(request.query_params.get("sheet"), min(int(most), MOST_DOUBTS)), headers=FRESH)


def thing(request: Request) -> Response:
    """All about one object (``id`` in the query, because ids may hold any character)."""
    return Quick(_desk(request).thing(request.query_params.get("id", "")), headers=FRESH)


def seek(request: Request) -> Response:
    """What fits the words typed."""
    typed = request.query_params.get("words", "")[:LONGEST_QUERY]
    return Quick({"found": _desk(request).seek(typed)}, headers=FRESH)


def parse(request: Request) -> Response:
    """How a typed text fits the conventions."""
    text = request.query_params.get("text", "")[:LONGEST_QUERY]
    return Quick(_desk(request).parse(text, request.query_params.get("as", "code")), headers=FRESH)


def trace(request: Request) -> Response:
    """The way of a circuit: ``of`` is an id or a printed name."""
    asked = request.query_params.get("of", "")[:LONGEST_QUERY].strip()
    return Quick(_desk(request).trace(asked), headers=FRESH) if asked else http_error(400)


async def decide(request: Request) -> Response:
    """Make one decision."""
    asked = REQUEST.validate_json(await request.body())
    sheet = request.query_params.get("sheet")
    answer = await run_in_threadpool(_desk(request).decide, asked.order, asked.revision, _who(request), sheet)
    return Quick(answer, headers=FRESH)


async def undo(request: Request) -> Response:
    """Take the last decision back."""
    asked = MOVE.validate_json(await request.body())
    return Quick(await run_in_threadpool(lambda: _desk(request).move(back=True, group=asked.group)), headers=FRESH)


async def redo(request: Request) -> Response:
    """Bring the last undone decision back."""
    asked = MOVE.validate_json(await request.body())
    return Quick(await run_in_threadpool(lambda: _desk(request).move(back=False, group=asked.group)), headers=FRESH)


def conventions(request: Request) -> Response:
    """The conventions as text."""
    return Quick(_desk(request).conventions_told(), headers=FRESH)


async def conventions_checked(request: Request) -> Response:
    """Whether a draft of the conventions is right; its faults come as an error."""
    draft = DRAFT.validate_json(await request.body())
    await run_in_threadpool(conventions_from, draft.text)
    return Quick({"fits": True}, headers=FRESH)


def intake(request: Request) -> Response:
    """The files that wait to be read, and the run."""
    return Quick(_desk(request).intake_told(), headers=FRESH)


async def hand_in(request: Request) -> Response:
    """Take one file: its bytes as they are, its name in the query."""
    desk = _desk(request)
    try:
        path = await desk.intake.take(request.query_params.get("name", ""), request.stream())
    except ClientDisconnect:  # taken out while it came; nobody waits for an answer
        return http_error(400)
    return Quick(await run_in_threadpool(desk.intake.look, path), headers=FRESH)


async def take_out(request: Request) -> Response:
    """Take a file that waits out again."""
    _desk(request).intake.drop(HANDED.validate_json(await request.body()).name)
    return intake(request)


async def read_pages(request: Request) -> Response:
    """Read the pages that wait."""
    asked = READ.validate_json(await request.body())
    await run_in_threadpool(_desk(request).read_pages, asked.rights)
    return intake(request)


async def stop_reading(request: Request) -> Response:
    """Stop reading; what was read stays."""
    await run_in_threadpool(_desk(request).intake.stop)
    return intake(request)


ROUTES = [
    Route("/desk/manual", overview),
    Route("/desk/pile", pile),
    Route("/desk/sheets/{sheet}/ground", ground),
    Route("/desk/sheets/{sheet}/read", overlay),
    Route("/desk/sheets/{sheet}/overleaf", overleaf),
    Route("/desk/sheets/{sheet}/crop.jpg", crop),
    Route("/desk/sheets/{sheet}/tiles/{level:int}/{x:int}/{y:int}.jpg", tile),
    Route("/desk/doubts", doubts),
    Route("/desk/thing", thing),
    Route("/desk/seek", seek),
    Route("/desk/parse", parse),
    Route("/desk/trace", trace),
    *PRINTS,
    Route("/desk/conventions", conventions),
    Route("/desk/conventions/check", conventions_checked, methods=["POST"]),
    Route("/desk/intake", intake),
    Route(HAND_IN, hand_in, methods=["PUT"]),
    Route("/desk/intake/out", take_out, methods=["POST"]),
    Route("/desk/intake/read", read_pages, methods=["POST"]),
    Route("/desk/intake/stop", stop_reading, methods=["POST"]),
    Route("/desk/decide", decide, methods=["POST"]),
    Route("/desk/undo", undo, methods=["POST"]),
    Route("/desk/redo", redo, methods=["POST"]),
]
