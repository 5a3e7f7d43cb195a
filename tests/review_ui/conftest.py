"""A small manual for the desk, and the desk with a client that speaks like its page."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, sync_playwright
from starlette.testclient import TestClient

from digitize.harness.model import Harness
from fixtures.small_manual import build_manual
from review_ui.server import make_app

from .browser import Person, Served


class PageClient:
    """Asks the desk as its page does: with the token, and on the newest revision unless told otherwise."""

    def __init__(self, client: TestClient, token: str) -> None:
        self.http = client
        self.headers = {"X-Desk-Token": token, "X-Desk-Who": "tester"}

    def get(self, path: str, **query: Any) -> dict[str, Any]:
        answer = self.http.get(path, params=query)
        assert answer.status_code == 200, answer.text
        return answer.json()

    def post(self, path: str, body: Any, **headers: str) -> Any:
        return self.http.post(path, json=body, headers=self.headers | headers)

    def decide(self, order: dict[str, Any], revision: int | None = None, sheet: str = "page_01") -> Any:
        at = self.get("/desk/manual")["revision"] if revision is None else revision
        return self.post(f"/desk/decide?sheet={sheet}", {"revision": at, "order": order})

    def wire(self, wire_id: str, sheet: str = "page_01") -> dict[str, Any] | None:
        return next((w for w in self.get(f"/desk/sheets/{sheet}/read")["wires"] if w["id"] == wire_id), None)


@pytest.fixture
def open_desk(tmp_path: Path) -> Iterator[Callable[..., PageClient]]:
    """Open a desk for a manual (a small one by default); several may be open at once."""
    open_clients: list[TestClient] = []

    def opened(path: Path | None = None, harness: Harness | None = None, **options: Any) -> PageClient:
        app = make_app(path or build_manual(tmp_path, harness), **options)
        client = TestClient(app, base_url="http://127.0.0.1:8000", raise_server_exceptions=False)
        client.__enter__()
        open_clients.append(client)
        return PageClient(client, app.state.token)

    yield opened
    for client in open_clients:
        client.__exit__(None, None, None)


@pytest.fixture
def desk(open_desk: Callable[..., PageClient]) -> PageClient:
    return open_desk()


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Debian's chromium, quiet; --no-sandbox only as root. DIGITIZE_CHROMIUM names another one."""
    quiet = ["--disable-background-networking", "--disable-component-update", "--no-first-run", "--disable-sync"]
    root = ["--no-sandbox"] if os.geteuid() == 0 else []
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(
            executable_path=os.environ.get("DIGITIZE_CHROMIUM", "/usr/bin/chromium"), args=[*quiet, *root]
        )
        yield chromium
        chromium.close()


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    context = browser.new_context(viewport={"width": 1280, "height": 800}, color_scheme="light")
    yield context.new_page()
    context.close()


@pytest.fixture
def served(tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[Served]:
    path = build_manual(tmp_path)
    server = Served(path, tmp_path / "server.log")
    server.start()
    yield server
    server.stop()
    told = server.log.read_text()
    if told:
        print(f"the server said:\n{told}")
    assert "Traceback" not in told, told


@pytest.fixture
def person(page: Page, served: Served) -> Iterator[Person]:
    somebody = Person(page)
    somebody.open(served.url)
    yield somebody
    assert somebody.faults == []
