"""``scripts/predict``: any section folder becomes a prediction, with no look at its truth."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from PIL import Image

PROJECT = Path(__file__).parent.parent.parent

TOLD = """
[section]
vehicle = "INVENTED VAN"
[[pages]]
page = 3
kind = "diagram"
[wire_code]
description = "circuit letter, circuit number, optional segment letter; space; gauge; space; colour, with / and tracer"
example = "P1 10 RD"
gauges = ["10", "12", "14", "16", "18", "20"]
[colours]
RD = "red"
[a_table_we_do_not_know]
x = 1
"""


@pytest.mark.slow
def test_a_section_folder_becomes_a_prediction_without_its_truth(tmp_path: Path, demo_pages: Path) -> None:
    section = tmp_path / "section"
    section.mkdir()
    with Image.open(demo_pages / "page_02.jpg") as whole:
        whole.crop((600, 700, 2100, 1900)).save(section / "page_03.png", dpi=(300, 300))
    (section / "page_04.png").write_text("no picture", encoding="utf-8")
    (section / "manual.toml").write_text(TOLD, encoding="utf-8")
    os.mkfifo(section / "truth.json")  # whoever opens it waits for ever
    out = tmp_path / "out.json"
    ran = subprocess.run(
        [sys.executable, "-m", "scripts.predict_section", str(section), str(out), "--jobs", "1"],
        check=False, capture_output=True, text=True, timeout=900, cwd=PROJECT,
    )  # fmt: skip
    assert ran.returncode == 4, ran.stderr
    assert "page_04.png" in ran.stderr
    told = json.loads(out.read_text(encoding="utf-8"))
    assert told["pages"] == [{"page": 3, "kind": "diagram", "width": 1500, "height": 1200}]
    assert told["wires"]
    for wire in told["wires"]:
        for x, y in (p for path in wire["paths"] for p in path["points"]):
            assert -50 <= x <= 1550
            assert -50 <= y <= 1250


def test_a_folder_without_pages_says_so(tmp_path: Path) -> None:
    ran = subprocess.run(
        [sys.executable, "-m", "scripts.predict_section", str(tmp_path), str(tmp_path / "out.json")],
        check=False, capture_output=True, text=True, timeout=300, cwd=PROJECT,
    )  # fmt: skip
    assert ran.returncode == 3
    assert ran.stderr.count("\n") == 1
