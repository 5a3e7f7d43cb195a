"""The speed bench measures in a process of its own and says plainly whether a bar is kept."""

import numpy as np
from PIL import Image

from scripts.bench_speed import BARS, LARGE, judged, large_sheets, measured, table

PAGE = {"picture": "page.jpg", "megapixels": 17.0, "seconds": 1.7, "text_seconds": 0.7, "peak_mb": 600.0}


def test_a_bar_that_is_missed_is_said_to_fail():
    large = {"picture": "grey.png", "megapixels": 124.0, "seconds": 20.0, "peak_mb": 990.0}
    same = {"picture": "grey.png", "megapixels": 17.0, "seconds": 2.5}
    said = {j["figure"]: j["kept"] for j in judged([PAGE, PAGE | {"text_seconds": 1.2}], [large], [same])}
    assert said == {"page_seconds": True, "text_seconds": False, "peak_mb": True, "growth": True}
    same["seconds"] = 1.7
    said = {j["figure"]: j["kept"] for j in judged([PAGE, PAGE | {"text_seconds": 1.2}], [large], [same])}
    assert said == {"page_seconds": True, "text_seconds": False, "peak_mb": True, "growth": False}
    assert table(judged([PAGE], [large], [same])).count("FAIL") == 1


def test_the_slowest_page_is_held_against_the_bar():
    slow = PAGE | {"picture": "slow.jpg", "seconds": BARS["page_seconds"] + 0.1}
    first = judged([PAGE, slow], [], [])[0]
    assert (first["of"], first["kept"]) == ("slow.jpg", False)


def test_a_picture_is_measured_by_stages(tmp_path):
    page = np.full((600, 800), 255, np.uint8)
    page[300:304, 100:700] = 0
    Image.fromarray(page).save(tmp_path / "page.png", dpi=(150, 150))
    found = measured(tmp_path / "page.png", 1)
    assert found["megapixels"] == 0.48
    assert {"flat", "lettering", "symbols", "marks", "reading"} <= set(found["stages"])
    assert found["seconds"] > 0
    assert 50 < found["peak_mb"] < 1000
    assert found["yardstick"] > 0.01, "figures of slow and quick machines compare by it"


def test_large_sheets_are_124_megapixels_in_four_kinds(tmp_path, monkeypatch):
    monkeypatch.setattr(Image, "MAX_IMAGE_PIXELS", None)
    Image.fromarray(np.full((30, 40), 200, np.uint8)).save(tmp_path / "p.png")
    files = large_sheets([tmp_path / "p.png"] * 4, tmp_path)
    kinds = []
    for file in files:
        with Image.open(file) as image:
            kinds.append((image.size, image.mode))
    assert kinds == [(LARGE, "1"), (LARGE, "L"), (LARGE, "RGB"), (LARGE, "RGB")]
