"""Who may ask the desk, and the one shape of every error."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from digitize.errors import PartMissing
from fixtures.small_manual import build_manual
from review_ui import server
from review_ui.guard import HEADERS, MAX_BODY
from review_ui.server import AddressWrong, make_app, serve

from .conftest import PageClient

Open = Callable[..., PageClient]
ORDER = {"revision": 1, "order": {"do": "code", "targets": ["w2"], "code": "X"}}


def has_the_one_shape(answer: Any) -> bool:
    body = answer.json()
    error = body["error"]
    assert set(body) == {"error"}
    assert set(error) == {"kind", "what", "advice", "more"}
    assert all(isinstance(error[k], str) and error[k] for k in ("kind", "what", "advice"))
    assert isinstance(error["more"], dict)
    assert answer.headers["content-type"] == "application/json"
    assert all(answer.headers[name] == value for name, value in HEADERS.items())
    assert "Traceback" not in answer.text
    return True


@pytest.mark.parametrize(
    ("path", "status"),
    [
        ("/nowhere", 404), ("/desk/nowhere", 404), ("/desk/sheets/page_99/ground", 404), ("/desk/sheets/page_99/read", 404),
        ("/desk/sheets/page_01/tiles/0/9/9.jpg", 404), ("/desk/sheets/page_01/tiles/x/0/0.jpg", 404), ("/desk/thing?id=w99", 404),
        ("/desk/thing", 404), ("/desk/sheets/page_01/crop.jpg", 400), ("/desk/sheets/page_01/crop.jpg?box=1,2,3", 400),
        ("/desk/sheets/page_01/crop.jpg?box=nan,0,1,1", 400), ("/desk/sheets/page_01/crop.jpg?box=5000,5000,5001,5001", 404),
        ("/desk/doubts?most=-1", 400), ("/desk/decide", 405), ("/page/../../../etc/passwd", 404),
        ("/desk/sheets/..%2f..%2fetc%2fpasswd/ground", 404), ("/page/%2e%2e/%2e%2e/pyproject.toml", 404),
    ],
)  # fmt: skip
def test_every_error_has_the_one_shape(desk: PageClient, path: str, status: int):
    answer = desk.http.get(path)
    assert answer.status_code == status
    assert has_the_one_shape(answer)


@pytest.mark.parametrize(
    ("body", "place"),
    [
        ("{", ""),
        ("[]", ""),
        ('{"revision": 1}', "order"),
        ('{"revision": -1, "order": {"do": "code", "targets": ["w2"], "code": "X"}}', "revision"),
        ('{"revision": 1, "order": {"do": "fly"}}', "order"),
        ('{"revision": 1, "order": {"do": "code", "targets": [], "code": "X"}}', "order.code.targets"),
        ('{"revision": 1, "order": {"do": "code", "targets": ["w2"], "code": " "}}', "order.code.code"),
        ('{"revision": 1, "order": {"do": "splice", "sheet": "page_01", "at": [1e400, 0]}}', "order.splice.at.0"),
        ('{"revision": 1, "order": {"do": "kind", "target": "lampL", "kind": "teapot"}}', "order.kind.kind"),
    ],
)
def test_a_wrong_form_names_its_place(desk: PageClient, body: str, place: str):
    answer = desk.http.post("/desk/decide", content=body, headers=desk.headers | {"Content-Type": "application/json"})
    assert answer.status_code == 400
    assert has_the_one_shape(answer)
    assert place in [f["place"] for f in answer.json()["error"]["more"]["faults"]]


def test_refused_stale_and_unknown_have_the_shape_too(desk: PageClient):
    gone = desk.decide({"do": "code", "targets": ["w99"], "code": "X"})
    nothing_there = desk.decide({"do": "splice", "sheet": "page_01", "at": [10, 10]})
    desk.decide({"do": "code", "targets": ["w2"], "code": "X1"})
    stale = desk.decide({"do": "code", "targets": ["w2"], "code": "X2"}, revision=1)
    empty = desk.post("/desk/redo", {"group": 5})
    assert [a.status_code for a in (gone, nothing_there, stale, empty)] == [404, 422, 409, 404]
    assert all(has_the_one_shape(a) for a in (gone, nothing_there, stale, empty))


def test_an_unexpected_fault_is_told_without_its_insides(desk: PageClient, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr("review_ui.desk.Desk.overview", lambda _self: {}["secret insides"])
    answer = desk.http.get("/desk/manual")
    assert answer.status_code == 500
    assert has_the_one_shape(answer)
    assert "secret" not in answer.text


@pytest.mark.parametrize(
    "headers",
    [
        {"X-Desk-Token": ""},
        {"X-Desk-Token": "guess"},
        {"Origin": "http://evil.invented"},
        {"Origin": "null"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Host": "evil.invented:8000"},
    ],
)
def test_another_page_cannot_change_the_manual(desk: PageClient, headers: dict[str, str]):
    answer = desk.http.post("/desk/decide", json=ORDER, headers=desk.headers | headers)
    assert answer.status_code == 403
    assert has_the_one_shape(answer)
    assert desk.wire("w2")["text"] == "L7 1.0 GN-WH"


def test_the_pages_own_origin_may(desk: PageClient):
    answer = desk.post("/desk/decide", ORDER, Origin="http://127.0.0.1:8000")
    assert answer.status_code == 200


def test_a_name_that_points_at_this_machine_gets_nothing(desk: PageClient):
    answer = desk.http.get("/desk/manual", headers={"Host": "rebound.invented"})
    assert answer.status_code == 403


def test_only_json_is_taken(desk: PageClient):
    answer = desk.http.post(
        "/desk/decide", content="x=1", headers=desk.headers | {"Content-Type": "application/x-www-form-urlencoded"}
    )
    assert answer.status_code == 415
    assert has_the_one_shape(answer)


def test_a_huge_request_is_refused_announced_or_not(desk: PageClient):
    headers = desk.headers | {"Content-Type": "application/json"}
    big = b" " * (MAX_BODY + 1)
    announced = desk.http.post("/desk/decide", content=big, headers=headers)
    streamed = desk.http.post("/desk/decide", content=iter([big[: MAX_BODY // 2]] * 3), headers=headers)
    assert (announced.status_code, streamed.status_code) == (413, 413)
    assert has_the_one_shape(announced)
    assert has_the_one_shape(streamed)


def test_with_a_key_nothing_is_told_without_it(open_desk: Open):
    desk = open_desk(key="open-sesame-12345")
    elsewhere = {"Host": "workshop.invented:8000"}
    refused = desk.http.get("/desk/manual", headers=elsewhere)
    assert refused.status_code == 401
    assert has_the_one_shape(refused)
    assert desk.http.get("/?key=wrong", headers=elsewhere).status_code == 401
    let_in = desk.http.get("/?key=open-sesame-12345&x=1", headers=elsewhere, follow_redirects=False)
    assert (let_in.status_code, let_in.headers["location"]) == (303, "/?x=1")
    assert "HttpOnly" in let_in.headers["set-cookie"]
    assert "SameSite=strict" in let_in.headers["set-cookie"]
    cookie = let_in.headers["set-cookie"].split(";")[0]
    assert desk.http.get("/desk/manual", headers=elsewhere | {"Cookie": cookie}).status_code == 200


def test_another_host_needs_a_key_that_is_not_weak(tmp_path: Path):
    with pytest.raises(AddressWrong, match="open to everybody"):
        serve(build_manual(tmp_path), host="0.0.0.0")
    with pytest.raises(AddressWrong, match="too short"):
        serve(tmp_path / "small.manual", host="0.0.0.0", key="short")


def test_a_page_that_was_not_built_is_said_plainly(open_desk: Open, tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    empty = tmp_path / "nothing built"
    desk = open_desk(static=empty)
    answer = desk.http.get("/")
    assert answer.status_code == 503
    assert has_the_one_shape(answer)
    assert "scripts/build_review" in answer.json()["error"]["advice"]
    monkeypatch.setattr(server, "page_folder", lambda: empty)
    with pytest.raises(PartMissing, match="not built") as missing:
        serve(tmp_path / "small.manual")
    assert missing.value.exit_code == 8


def test_the_page_carries_the_token_and_a_strict_policy(open_desk: Open, tmp_path: Path):
    built = tmp_path / "built"
    built.mkdir()
    (built / "index.html").write_text('<meta name="desk-token" content="{{token}}">')
    desk = open_desk(static=built)
    answer = desk.http.get("/")
    assert desk.headers["X-Desk-Token"] in answer.text
    policy = answer.headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy


def test_a_taken_port_is_told(tmp_path: Path):
    taken = server._listen("127.0.0.1", 0)
    taken.listen()
    port = taken.getsockname()[1]
    with pytest.raises(AddressWrong, match=f"port {port}"):
        server._listen("127.0.0.1", port)
    taken.close()


def test_every_app_has_its_own_token(tmp_path: Path):
    path = build_manual(tmp_path)
    one, two = make_app(path), make_app(path)
    assert one.state.token != two.state.token
    one.state.desk.close()
    two.state.desk.close()
