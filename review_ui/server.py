"""The review desk's server: one manual, one page, on this machine unless told otherwise."""

from __future__ import annotations

import contextlib
import secrets
import socket
import sys
import threading
import webbrowser
from collections.abc import AsyncIterator
from importlib.resources import files
from pathlib import Path

from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from digitize.errors import DigitizeError, PartMissing
from digitize.store.manual import Manual
from review_ui.answers import HANDLERS, error_answer
from review_ui.desk import Desk
from review_ui.guard import LOOPBACK, Doors, Guard
from review_ui.routes import ROUTES

TOKEN_PLACE = "{{token}}"  # noqa: S105  a place in the page, not a secret


class AddressWrong(DigitizeError):
    """The desk cannot listen where it was told to."""

    exit_code = 2


def page_folder() -> Path:
    """Where the built page lies, inside the installed package."""
    return Path(str(files("digitize"))) / "_review_static"


def page_missing() -> PartMissing:
    """The one line for a page that was not built."""
    return PartMissing("The review page was not built.", "Run scripts/build_review, then start the desk again.")


def make_app(manual_path: str | Path, *, key: str | None = None, static: Path | None = None) -> Starlette:
    """The desk for one manual as an ASGI application.

    Args:
        manual_path: the manual's file.
        key: access key that a visitor from another machine must give; None: this machine only.
        static: folder of the built page; its usual place when None. Without it the desk answers, but has no page.

    Raises:
        ManualWrong: the file cannot be used.
    """
    folder = static or page_folder()
    token = secrets.token_urlsafe(24)
    desk = Desk(Path(manual_path))

    @contextlib.asynccontextmanager
    async def lifespan(_app: Starlette) -> AsyncIterator[None]:
        yield
        desk.close()

    def first_page(_request: Request) -> Response:
        page = folder / "index.html"
        if not page.is_file():
            fault = page_missing()
            return error_answer(503, "part_missing", fault.what, fault.advice)
        text = page.read_text(encoding="utf-8").replace(TOKEN_PLACE, token)
        return HTMLResponse(text, headers={"Cache-Control": "no-store"})

    routes: list[Route | Mount] = [Route("/", first_page), *ROUTES]
    if folder.is_dir():
        routes.append(Mount("/page", StaticFiles(directory=folder)))
    app = Starlette(
        routes=routes, exception_handlers=HANDLERS, lifespan=lifespan, middleware=[Middleware(Guard, Doors(token, key))]
    )
    app.state.desk = desk
    app.state.token = token
    return app


def serve(
    path: str | Path,
    host: str = "127.0.0.1",
    port: int = 0,
    key: str | None = None,
    *,
    browser: bool = False,
    new: bool = False,
) -> None:
    """Open the desk for the manual at ``path`` and serve it until interrupted.

    Args:
        path: the manual's file.
        host: where to listen; anything but this machine needs ``key``.
        port: 0 for any free one.
        key: the access key, at least 12 characters.
        browser: open the page in the user's browser.
        new: begin an empty manual there; it is removed again when no page came into it.

    Raises:
        ManualWrong: see ``make_app``.
        PartMissing: the page was not built.
        AddressWrong: another host without a key, a weak key, or a port that is taken.
    """
    import uvicorn

    if host not in LOOPBACK and not key:
        raise AddressWrong(
            f"The desk would be open to everybody who reaches {host}.",
            "Give an access key with --key, or stay on 127.0.0.1.",
        )
    if key is not None and len(key) < 12:
        raise AddressWrong("The access key is too short.", "Use at least 12 characters.")
    if not (page_folder() / "index.html").is_file():
        raise page_missing()
    listener = _listen(host, port)
    begun = new and not Path(path).exists()
    if begun:
        Manual.create(path, "").close()
    app = make_app(path, key=key)
    where = _address(host, listener.getsockname()[1], key)
    print(f"The review desk is open at {where}  (Ctrl+C closes it)", flush=True)
    if key is not None:
        print("Everybody who has this address can read and change the manual.", file=sys.stderr, flush=True)
    threading.Thread(target=_warm, args=(app.state.desk,), daemon=True).start()
    if browser:
        webbrowser.open(where)
    config = uvicorn.Config(app, log_level="warning", server_header=False, timeout_graceful_shutdown=2)
    with contextlib.suppress(KeyboardInterrupt):  # Ctrl+C is how the desk is closed
        uvicorn.Server(config).run(sockets=[listener])
    if begun:
        _remove_empty(Path(path))
    print("The desk is closed. All corrections are kept.", flush=True)


def _remove_empty(path: Path) -> None:
    """A manual that was begun here and got no page goes again."""
    with Manual.open(path) as manual:
        empty = not manual.sheets()
    if empty:
        path.unlink()


FIRST_LOOK = 2.0
"""Seconds after which the desk prepares what comes later though nobody has seen a page yet."""


def _warm(desk: Desk) -> None:
    try:
        desk.all_facts()  # the first view needs them
        desk.looked_at.wait(FIRST_LOOK)  # and must not wait for what is prepared for later
        desk.warm()
    except DigitizeError as fault:
        # the same fault is told on the page when the sheet is opened; the server itself goes on
        print(f"digitize: {fault}", file=sys.stderr, flush=True)


def _listen(host: str, port: int) -> socket.socket:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    listener = socket.socket(family, socket.SOCK_STREAM)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((host.strip("[]"), port))
        listener.listen()  # so that a browser that comes before the server is up waits instead of being refused
    except OSError as fault:
        listener.close()
        raise AddressWrong(
            f"The desk cannot listen on {host} port {port}: {fault.strerror}.",
            "Choose another port; 0 takes any free one.",
        ) from fault
    return listener


def _address(host: str, port: int, key: str | None) -> str:
    shown = f"[{host}]" if ":" in host and not host.startswith("[") else host
    return f"http://{shown}:{port}/" + (f"?key={key}" if key else "")
