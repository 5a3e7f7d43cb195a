"""Handing pages in: what is taken, what is refused with one clear line, and the run that reads them."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest

from digitize.store.manual import Manual
from review_ui import intake as intake_module
from review_ui.intake import Intake, IntakeRefused, Run

from .conftest import PageClient
from .test_desk_doors import has_the_one_shape


def picture(shade: int = 230) -> bytes:
    """A page with a frame, a box and a line, as PNG."""
    page = np.full((700, 1000), shade, np.uint8)
    cv2.rectangle(page, (40, 40), (960, 660), 30, 3)
    cv2.rectangle(page, (200, 200), (300, 260), 30, 3)
    cv2.line(page, (300, 230), (700, 230), 30, 3)
    return cv2.imencode(".png", page)[1].tobytes()


def hand_in(desk: PageClient, name: str, content: bytes, **headers: str) -> Any:
    sent = desk.headers | {"Content-Type": "application/octet-stream"} | headers
    return desk.http.put("/desk/intake/file", params={"name": name}, content=content, headers=sent)


def wait_for_run(desk: PageClient, seconds: float = 400) -> dict[str, Any]:
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        run = desk.get("/desk/intake")["run"]
        if run["state"] != "running":
            return run
        time.sleep(0.2)
    raise AssertionError("the run did not end")


def test_a_file_that_is_handed_in_waits_with_its_pages(desk: PageClient):
    answer = hand_in(desk, "page_09.png", picture())
    assert answer.status_code == 200
    assert answer.json() == {"name": "page_09.png", "size": len(picture()), "pages": 1, "fault": None}
    assert [f["name"] for f in desk.get("/desk/intake")["files"]] == ["page_09.png"]
    desk.post("/desk/intake/out", {"name": "page_09.png"})
    assert desk.get("/desk/intake")["files"] == []


def test_a_file_that_is_no_page_gets_one_clear_line(desk: PageClient):
    told = hand_in(desk, "notes.png", b"not a picture").json()
    assert told["pages"] == 0
    assert told["fault"].startswith("notes.png ")
    assert "\n" not in told["fault"]
    assert "/tmp" not in told["fault"]
    refused = desk.post("/desk/intake/read", {})
    assert refused.status_code == 422
    assert has_the_one_shape(refused)


@pytest.mark.parametrize(
    "name", ["../evil.png", "a/b.png", "..\\evil.png", "", ".hidden", "a\nb.png", "x" * 200 + ".png", "\u202egnp"]
)
def test_a_name_that_could_lead_elsewhere_is_refused(desk: PageClient, name: str):
    answer = hand_in(desk, name, picture())
    assert answer.status_code == 422
    assert has_the_one_shape(answer)
    assert desk.get("/desk/intake")["files"] == []


def test_two_files_of_one_name_do_not_overwrite_one_another(desk: PageClient):
    hand_in(desk, "a.png", picture())
    again = hand_in(desk, "a.png", picture(200))
    assert again.status_code == 422
    assert "waits already" in again.json()["error"]["what"]


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({"X-Desk-Token": "guess"}, 403),
        ({"Origin": "http://evil.invented"}, 403),
        ({"Content-Type": "application/json"}, 415),
    ],
)
def test_only_the_desks_own_page_may_hand_in(desk: PageClient, headers: dict[str, str], status: int):
    answer = hand_in(desk, "a.png", picture(), **headers)
    assert answer.status_code == status
    assert has_the_one_shape(answer)


def test_a_file_above_the_limit_is_refused_announced_or_not(desk: PageClient, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr("review_ui.guard.MAX_FILE", 1000)
    announced = hand_in(desk, "big.png", b"x" * 1001)
    streamed = hand_in(desk, "big.png", iter([b"x" * 600] * 3))
    assert (announced.status_code, streamed.status_code) == (413, 413)
    assert has_the_one_shape(announced)
    assert has_the_one_shape(streamed)
    assert desk.get("/desk/intake")["files"] == [], "half a file is no file"


def test_a_full_disk_is_told(desk: PageClient, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(intake_module, "SPARE", 2**62)
    answer = hand_in(desk, "a.png", b"x" * (17 * 1024 * 1024))
    assert answer.status_code == 422
    assert "nearly full" in answer.json()["error"]["what"]


def test_pages_are_read_into_the_manual_and_the_bad_one_waits_with_its_reason(
    open_desk: Callable[..., PageClient], tmp_path: Path
):
    Manual.create(tmp_path / "new.manual", "").close()
    desk = open_desk(tmp_path / "new.manual")
    hand_in(desk, "one.png", picture())
    hand_in(desk, "junk.png", b"junk")
    begun = desk.post("/desk/intake/read", {"rights": "my own copy"})
    assert begun.status_code == 200
    assert begun.json()["run"]["state"] == "running"
    assert desk.post("/desk/intake/read", {}).status_code == 422, "one run at a time"
    run = wait_for_run(desk)
    assert (run["state"], [r["sheet"] for r in run["read"]]) == ("done", ["one"])
    told = desk.get("/desk/manual")
    assert [s["id"] for s in told["sheets"]] == ["one"]
    assert told["rights"] == "my own copy"
    assert [f["name"] for f in desk.get("/desk/intake")["files"]] == ["junk.png"]


def test_stopping_keeps_the_manual_as_it_was(desk: PageClient):
    before = desk.get("/desk/sheets/page_01/read")
    hand_in(desk, "page_09.png", picture())
    desk.post("/desk/intake/read", {})
    stopped = desk.post("/desk/intake/stop", {})
    assert stopped.json()["run"]["state"] == "stopped"
    assert [f["name"] for f in stopped.json()["files"]] == ["page_09.png"], "the file waits on"
    assert [s["id"] for s in desk.get("/desk/manual")["sheets"]] == ["page_01", "page_02"]
    assert desk.get("/desk/sheets/page_01/read")["wires"] == before["wires"]
    assert desk.post("/desk/intake/stop", {}).status_code == 422


def test_a_run_says_how_far_it_is():
    run = Run("add", pages=4)
    assert 0 <= run.told(2)["share"] < 0.25
    run.read.append({"sheet": "a", "seconds": 1.0})
    run.marks.append(run.began + 10)
    told = run.told(2)
    assert 0.25 <= told["share"] < 0.5
    assert told["left_s"] <= 40


def test_a_run_that_breaks_is_told_in_one_line(tmp_path: Path):
    intake = Intake(tmp_path / "nowhere.manual")
    intake.decode(None)
    until = time.monotonic() + 200
    while intake.busy and time.monotonic() < until:
        time.sleep(0.1)
    run = intake.told()["run"]
    assert run["state"] == "failed"
    assert "nowhere.manual" in run["fault"]
    with pytest.raises(IntakeRefused):
        intake.stop()
    intake.close()


def test_pages_that_cannot_be_put_together_after_a_stop_are_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    intake = Intake(tmp_path / "rotten.manual")
    (tmp_path / "rotten.manual").write_bytes(b"no manual at all")
    run = Run("add", pages=2)
    run.read.append({"sheet": "one", "seconds": 1.0})
    monkeypatch.setattr(intake, "_run", run)
    intake.stop()
    told = intake.told()["run"]
    assert told["state"] == "failed"
    assert told["fault"].startswith("The pages that were read are kept, but could not be put together. ")
    assert "rotten.manual" in told["fault"]
    intake.close()
