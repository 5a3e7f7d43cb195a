"""The shipped recogniser: what the card says of it is so."""

from __future__ import annotations

import json
import random
from pathlib import Path

import cv2
import numpy as np
import onnxruntime
import pytest
from PIL import Image, ImageDraw, ImageFont

from digitize.errors import PartMissing
from digitize.reading.alphabet import WIDTH, folded
from digitize.reading.calibrate import Calibration
from digitize.reading.engines import Grey
from digitize.reading.lettering import CARD, HEIGHT, WEIGHTS, Lettering, network_input, sha256_of
from digitize.reading.readers import CALIBRATION
from fixtures.lettering_training.faces import HERSHEY, HERSHEY_HELD_OUT, hershey_faces
from fixtures.lettering_training.fit import figures_of, measured


@pytest.fixture(scope="module")
def reader() -> Lettering:
    cv2.setNumThreads(1)
    return Lettering()


def test_the_card_names_the_weights_that_are_shipped() -> None:
    assert sha256_of(WEIGHTS) in CARD.read_text(encoding="utf-8")
    assert json.loads(CALIBRATION.read_text(encoding="utf-8"))["weights_sha256"] == sha256_of(WEIGHTS)


def test_the_weights_are_small_and_take_any_width() -> None:
    assert WEIGHTS.stat().st_size <= 4_000_000
    session = onnxruntime.InferenceSession(str(WEIGHTS), providers=["CPUExecutionProvider"])
    for n, w in ((1, 32), (3, 208)):
        (out,) = session.run(None, {"crops": np.zeros((n, 1, HEIGHT, w), np.float32)})
        assert out.shape == (n, w // 4, WIDTH)
        assert np.allclose(np.exp(out).sum(axis=2), 1, atol=1e-3)


def test_the_stated_accuracy_and_calibration_are_reached(reader: Lettering) -> None:
    # a face held out of the training, worn lettering among wires and ovals, strings of invented manuals, seed fixed
    stated = json.loads(CALIBRATION.read_text(encoding="utf-8"))["check"]
    assert stated["face"] == HERSHEY_HELD_OUT[0]
    assert stated["face"] not in HERSHEY
    outcomes = measured(reader, hershey_faces(HERSHEY_HELD_OUT), stated["count"], stated["seed"])
    figures = figures_of(outcomes, Calibration.load(CALIBRATION))["all"]
    for name in ("exact_free", "exact_with_grammars", "codes_with_grammars", "precision_at_095"):
        assert figures[name] >= stated["figures"][name] - 0.02, name  # other processors round otherwise
    assert figures["exact_with_grammars"] >= 0.85
    assert figures["precision_at_095"] >= 0.97
    assert figures["calibration_error"] <= 0.06


WORDS = (
    "HEADLAMP SWITCH", "HORN RELAY", "IGNITION COIL", "FUSE BLOCK", "WIPER MOTOR", "OIL PRESSURE", "STOP LAMP", "GROUND",
    "FUEL GAUGE", "TURN SIGNAL", "A7 18 RED/BLK", "C101", "B12 2.5 GN-YE", "25A", "H205", "D14", "30", "7.5A", "R.H. DOOR", "NO. 4",
    "RADIO", "BATTERY", "ALTERNATOR", "K3F 14 ORG", "E19", "GR2", "54", "CIRCUIT BREAKER", "SEE SHEET 6", "HEATER FAN",
)  # fmt: skip


def plain(text: str, size: int) -> Grey:
    """``text`` in the face built into Pillow (Aileron, CC0), which is not among the faces trained on."""
    font = ImageFont.load_default(size)
    left, top, right, bottom = font.getbbox(text)
    margin = round(0.25 * size * 0.72)
    image = Image.new("L", (int(right - left) + 2 * margin, int(bottom - top) + 2 * margin), 245)
    ImageDraw.Draw(image).text((margin - left, margin - top), text, 25, font=font)
    return np.array(image)


@pytest.mark.parametrize("size", [18, 32, 60])
def test_words_drawn_by_an_independent_library_are_read(reader: Lettering, size: int) -> None:
    said = [s.text for s in reader.read([plain(w, size) for w in WORDS])]
    right = [a.replace(" ", "") == folded(b).replace(" ", "") for a, b in zip(said, WORDS, strict=True)]
    assert sum(right) / len(right) >= 0.9, [
        p for p, ok in zip(zip(said, WORDS, strict=True), right, strict=True) if not ok
    ]


def test_a_crop_reads_the_same_alone_and_in_company(reader: Lettering) -> None:
    crops = [plain(w, 30) for w in WORDS]
    together = [s.text for s in reader.read(crops)]
    alone = [reader.read([c])[0].text for c in crops]
    assert together == alone


def test_empty_paper_is_read_as_nothing(reader: Lettering) -> None:
    assert [s.text for s in reader.read([np.full((40, 160), 250, np.uint8), np.full((6, 4), 250, np.uint8)])] == [
        "",
        "",
    ]
    assert reader.read([]) == []


def test_the_input_is_even_whatever_the_shades() -> None:
    crop = plain("A12", 40)
    faint = (200 - (255 - crop.astype(int)) // 4).astype(np.uint8)
    assert np.abs(network_input(crop).astype(int) - network_input(faint).astype(int)).mean() < 6


def test_missing_weights_are_told(tmp_path: Path) -> None:
    with pytest.raises(PartMissing, match=r"lettering-1\.onnx"):
        Lettering(tmp_path / "lettering-1.onnx")


def test_the_generator_repeats_itself() -> None:
    from fixtures.lettering_training.samples import sample

    faces = hershey_faces(("futural",))
    one, other = (sample(faces, random.Random(6)) for _ in range(2))
    assert one.text == other.text
    assert np.array_equal(one.crop, other.crop)
