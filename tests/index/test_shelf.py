"""A shelf of manuals: one question, every manual in a folder."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from digitize.commands_find import show_found
from digitize.errors import ManualWrong, NotFound
from digitize.store.manual import Manual
from fixtures.small_harness import small_harness


def keep(path: Path, **changed: object) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    with Manual.create(path, f"rights of {path.stem}") as made:
        made.save_harness(replace(small_harness(), rights=f"rights of {path.stem}", **changed))
    return path


@pytest.fixture
def shelf(tmp_path: Path) -> Path:
    keep(tmp_path / "a" / "first.manual")
    keep(tmp_path / "b" / "second.manual", components=())
    return tmp_path


def test_every_manual_below_the_folder_is_searched_and_named(shelf: Path, capsys: pytest.CaptureFixture[str]) -> None:
    show_found(shelf, "C2O5", as_json=False)
    said = capsys.readouterr().out
    assert said.index("first.manual") < said.index("second.manual")
    assert said.count("C2O5") >= 2


def test_a_manual_without_the_thing_is_not_listed(shelf: Path, capsys: pytest.CaptureFixture[str]) -> None:
    show_found(shelf, "park lamp lh", as_json=True)
    told = json.loads(capsys.readouterr().out)
    assert [Path(m["file"]).name for m in told["manuals"]] == ["first.manual"]
    assert told["manuals"][0]["rights"] == "rights of first"
    assert told["not_searched"] == []


def test_what_is_only_spelled_alike_does_not_stand_beside_the_thing_itself(
    shelf: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    show_found(shelf, "PARK LAMP LX", as_json=True)
    assert {f["how"] for m in json.loads(capsys.readouterr().out)["manuals"] for f in m["found"]} == {"alike"}
    show_found(shelf, "PARK LAMP LH", as_json=True)
    assert "alike" not in {f["how"] for m in json.loads(capsys.readouterr().out)["manuals"] for f in m["found"]}


def test_a_rotten_file_is_told_after_the_others_were_searched(shelf: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (shelf / "rotten.manual").write_bytes(b"no database at all")
    with pytest.raises(ManualWrong, match="1 of 3 manuals"):
        show_found(shelf, "C2O5", as_json=True)
    said = capsys.readouterr()
    told = json.loads(said.out)
    assert len(told["manuals"]) == 2
    assert [Path(n["file"]).name for n in told["not_searched"]] == ["rotten.manual"]
    assert "rotten.manual" in said.err


def test_nothing_on_the_shelf_offers_the_nearest_names(shelf: Path) -> None:
    with pytest.raises(NotFound, match="Nearest: "):
        show_found(shelf, "zzz rear fog guard", as_json=False)


def test_a_folder_without_manuals_says_how_to_make_one(tmp_path: Path) -> None:
    with pytest.raises(NotFound, match="digitize read"):
        show_found(tmp_path, "lamp", as_json=False)
