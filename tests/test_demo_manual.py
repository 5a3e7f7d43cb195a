"""The whole way once: the demo manual from scans to a harness, through the command line, held against its truth."""

from __future__ import annotations

import json
import shutil
import subprocess
from pathlib import Path

import pytest

from digitize.harness.edits import Anchor, SetCode
from digitize.harness.edits_find import point_along
from digitize.legend.conventions import Conventions
from digitize.store.manual import Manual
from fixtures.compare import compare
from fixtures.truth import read as read_truth
from scripts.bench_findings import judge

pytestmark = pytest.mark.slow

BARS = {
    "wire_codes_exact": 0.95,
    "wire_endpoint_f1": 0.93,
    "connector_ids": 0.97,
    "zones": 1.0,
    "page_links_f1": 0.95,
}


@pytest.mark.parametrize(("figure", "bar"), BARS.items())
def test_the_demo_manual_is_read_as_well_as_promised(
    demo_manual: Path, demo_pages: Path, figure: str, bar: float
) -> None:
    with Manual.open(demo_manual) as manual:
        harness = manual.harness()
        mappings = {s.id: facts.mapping for s in harness.sheets if (facts := manual.facts(s.id)) is not None}
    score = compare(harness, read_truth(demo_pages / "truth.json"), mappings).score(figure)
    assert score is not None
    assert score >= bar


def test_every_finding_of_the_demo_manual_is_so(demo_manual: Path, demo_pages: Path) -> None:
    with Manual.open(demo_manual) as manual:
        harness = manual.harness()
        mappings = {s.id: facts.mapping for s in harness.sheets if (facts := manual.facts(s.id)) is not None}
        used = Conventions.model_validate_json(manual.setting("conventions") or "{}")
    judged = judge(harness, read_truth(demo_pages / "truth.json"), mappings, used)
    assert [j.finding.id for j in judged if j.verdict != "so"] == []
    assert {"index-zone", "chart-colour"} <= {j.finding.check for j in judged}, "what was planted is found"


def test_a_run_tells_on_stdout_what_it_read_and_where_to_look(
    demo_run: subprocess.CompletedProcess[str], demo_manual: Path
) -> None:
    assert "6 pages read, 0 unchanged, 0 failed." in demo_run.stdout
    for word in ("wires", "connectors", "splices", "doubt", f"digitize desk {demo_manual}"):
        assert word in demo_run.stdout
    assert demo_run.stderr == "", "no progress where nobody watches"


def test_every_page_has_a_kind_a_title_and_its_seconds(demo_manual: Path, digitize) -> None:
    told = json.loads(digitize("report", demo_manual, "--json").stdout)
    assert [p["kind"] for p in told["pages"]] == ["diagram", "diagram", "diagram", "chart", "index", "legend"]
    assert all(p["title"] for p in told["pages"][:3])
    assert all(p["seconds"] > 0 for p in told["pages"])
    assert told["counts"]["wires"] > 90
    assert told["rights"]


def test_a_second_call_reads_nothing_again_and_keeps_a_persons_edits(
    demo_manual: Path, demo_pages: Path, tmp_path: Path, digitize
) -> None:
    own = tmp_path / "own.manual"
    shutil.copy(demo_manual, own)
    with Manual.open(own) as manual:
        revision, reviewed = manual.reviewed_at()
        wire = reviewed.harness.wires[0]
        spot = point_along(wire.paths[0].points, 0.5)
        anchor = Anchor("wire", wire.paths[0].sheet, spot, wire.code.value)
        manual.add_edit(SetCode(target=wire.id, anchor=anchor, code="X99 18 BK"), who="test", revision=revision)
    again = digitize("read", demo_pages, "--into", own)
    assert again.returncode == 0, again.stderr
    assert "0 pages read, 6 unchanged, 0 failed." in again.stdout
    with Manual.open(own) as manual:
        codes = {w.id: w.code.value for w in manual.reviewed().harness.wires}
    assert codes[wire.id] == "X99 18 BK"


@pytest.mark.parametrize("form", ["json", "graphml", "wires", "zones"])
def test_the_harness_goes_out_in_every_form_with_its_rights(
    demo_manual: Path, tmp_path: Path, digitize, form: str
) -> None:
    out = tmp_path / f"demo.{form}"
    ran = digitize("export", demo_manual, "--as", form, "--to", out)
    assert ran.returncode == 0, ran.stderr
    assert "Invented pages" in out.read_text(encoding="utf-8")


def test_the_folder_of_kept_work_holds_every_state_by_name(tmp_path: Path, digitize) -> None:
    from PIL import Image, ImageDraw

    pages = tmp_path / "pages"
    pages.mkdir()
    picture = Image.new("L", (1600, 1200), 255)
    ImageDraw.Draw(picture).rectangle([100, 100, 1500, 1100], outline=0, width=6)
    picture.save(pages / "one.png", dpi=(300, 300))
    ran = digitize("read", pages, "--keep-work")
    assert ran.returncode == 0, ran.stderr
    kept = {p.name for p in (tmp_path / "pages.manual.work").iterdir()}
    assert {"one_flat.png", "one_marks.json", "one_reading.json"} <= kept


def test_the_number_of_workers_changes_nothing(tmp_path: Path, demo_pages: Path, digitize) -> None:
    from PIL import Image

    pages = tmp_path / "pages"
    pages.mkdir()
    with Image.open(demo_pages / "page_02.jpg") as whole:
        for n in range(3):
            part = whole.crop((600 + 900 * n, 700, 1900 + 900 * n, 1700))
            part.save(pages / f"part_{n}.png", dpi=(300, 300))
    made = []
    for jobs in ("1", "3"):
        manual = tmp_path / f"jobs{jobs}.manual"
        ran = digitize("read", pages, "--into", manual, "--jobs", jobs)
        assert ran.returncode == 0, ran.stderr
        made.append(json.loads(digitize("export", manual, "--as", "json", "--to", "-").stdout))
    assert made[0] == made[1]
    assert made[0]["harness"]["wires"]
