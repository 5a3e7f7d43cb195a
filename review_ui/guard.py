"""Who may ask the desk: only its own page, in this browser, and from elsewhere only with the access key."""

from __future__ import annotations

import hmac
from dataclasses import dataclass
from urllib.parse import urlencode, urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from review_ui.answers import http_error, unexpected
from review_ui.intake import MAX_FILE

MAX_BODY = 256 * 1024
"""Bytes of one request; the longest order (a wire of 500 points) needs 20 kB."""

HAND_IN = "/desk/intake/file"
"""The one address that takes a file: its bytes as they are, under the name in the query."""

LOOPBACK = ("127.0.0.1", "localhost", "[::1]")

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; connect-src 'self';"
    " font-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)

HEADERS = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=()",
}

KEY_COOKIE = "desk_key"
TOKEN_HEADER = "x-desk-token"  # noqa: S105  a header's name


@dataclass(frozen=True, slots=True)
class Doors:
    """What the guard goes by.

    Attributes:
        token: the page's own token, sent with everything that changes something.
        key: the access key for another host than this machine; None on loopback.
    """

    token: str
    key: str | None


class Guard:
    """ASGI middleware in front of everything."""

    def __init__(self, app: ASGIApp, doors: Doors) -> None:
        self._app = app
        self._doors = doors

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Refuse, or pass on and dress the answer in the safety headers."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return

        async def dressed(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)  # a printed sheet brings a policy of its own, without any script
            await send(message)

        refusal = self._refusal(Request(scope))
        if refusal is not None:
            await refusal(scope, receive, dressed)
            return
        counted = _counted(receive, _room(scope["path"]))
        try:
            await self._app(scope, counted, dressed)
        except _TooLargeError:
            await http_error(413)(scope, receive, dressed)
        except Exception as fault:  # noqa: BLE001  the last place that can answer; the fault goes to the log
            await unexpected(fault)(scope, receive, dressed)

    def _refusal(self, request: Request) -> Response | None:
        host = request.headers.get("host", "")
        if self._doors.key is None and _name(host) not in LOOPBACK:
            return http_error(403)  # a name that was made to point here (DNS rebinding)
        if self._doors.key is not None:
            given = request.query_params.get("key")
            if given is not None and request.method == "GET" and _same(given, self._doors.key):
                return self._let_in(request)
            if not _same(request.cookies.get(KEY_COOKIE, ""), self._doors.key):
                return http_error(401)
        return (
            None if request.method in {"GET", "HEAD"} else self._refused_change(request.headers, host, request.url.path)
        )

    def _refused_change(self, headers: Headers, host: str, path: str) -> Response | None:
        origin = headers.get("origin")
        foreign = origin is not None and urlsplit(origin).netloc != host
        if foreign or headers.get("sec-fetch-site", "same-origin") != "same-origin":
            return http_error(403)
        if not _same(headers.get(TOKEN_HEADER, ""), self._doors.token):
            return http_error(403)
        wanted = "application/octet-stream" if path == HAND_IN else "application/json"
        if headers.get("content-type", "").split(";")[0].strip() != wanted:
            return http_error(415)
        length = headers.get("content-length", "0")
        if not length.isdecimal():
            return http_error(400)
        return http_error(413) if int(length) > _room(path) else None

    def _let_in(self, request: Request) -> Response:
        rest = [(k, v) for k, v in request.query_params.multi_items() if k != "key"]
        answer = RedirectResponse(request.url.path + ("?" + urlencode(rest) if rest else ""), 303)
        assert self._doors.key is not None
        answer.set_cookie(
            KEY_COOKIE, self._doors.key, httponly=True, samesite="strict", secure=request.url.scheme == "https"
        )
        return answer


class _TooLargeError(Exception):
    """More came than was announced."""


def _room(path: str) -> int:
    """Bytes that a request to ``path`` may have."""
    return MAX_FILE if path == HAND_IN else MAX_BODY


def _counted(receive: Receive, room: int) -> Receive:
    got = 0

    async def counted() -> Message:
        nonlocal got
        message = await receive()
        got += len(message.get("body", b""))
        if got > room:
            raise _TooLargeError
        return message

    return counted


def _name(host: str) -> str:
    """The host without its port."""
    if host.startswith("["):
        return host.partition("]")[0] + "]"
    return host.partition(":")[0].lower()


def _same(given: str, wanted: str) -> bool:
    return hmac.compare_digest(given.encode(), wanted.encode())
