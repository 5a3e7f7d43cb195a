"""The model card beside the weights."""

from __future__ import annotations

from pathlib import Path

from digitize.reading.alphabet import CHARACTERS
from digitize.reading.lettering import sha256_of
from fixtures.lettering_training.faces import HELD_OUT, HERSHEY, HERSHEY_HELD_OUT, PACKAGES

_HEAD = """# lettering-1: reader of drawing lettering

| | |
| --- | --- |
| file | `{file}`, {size:.2f} MB, ONNX opset 17, float32 |
| sha256 | `{digest}` |
| input | `crops`: n x 1 x 40 x w, float32, paper near 0, ink near 1 (`digitize.reading.lettering.network_input`) |
| output | `frames`: n x w/4 x {outputs}, natural-log probabilities; column 0 is "no character" |
| alphabet | `{alphabet}` (the last is the space); small letters are read as capitals |
| network | separable residual convolutions, two bidirectional LSTM layers, CTC; 0.96 million weights |
| meant for | single upright lines of lettering on wiring drawings; not for handwriting in joined letters, nor for prose |

## How it was made

`scripts/train_reader` (needs torch and onnx): strings and pictures are generated without end by `fixtures/lettering_training`
(strings looser than any manual's conventions; surroundings: wires, ovals, boxes, neighbours; wear from clean to heavy;
150 to 400 dpi; seeds fixed by worker). No real page and no page of any manual was used. The schedule follows wall time, so
that a new run gives other weights of the same quality, not the same bytes. Word lists: Python's own help texts and general
trade words.

Training that gave these weights: {history}

## Measured

On {count} generated samples (half to fit the calibration, half for these figures) in faces never trained on, strings of
twelve invented manuals, seed fixed; exact but for spaces and case. Generated data flatters; real scans decide.

| | samples | exact, free | exact, with grammars | codes, free | codes, with grammars | calibration error | precision at 0.95 | share at 0.95 |
| --- | --- | --- | --- | --- | --- | --- | --- | --- |
{rows}

## Known weaknesses

- `1` and `I`, `0` and `O` are often the same strokes: only a manual's conventions settle them.
- Strokes broken into dots, and capitals lower than about 8 px in the scan.
- A line that runs through the text lengthwise.

## Faces

Nothing of a font is shipped; the licences are named because the faces were drawn from.
Trained on (Debian package, licence, files):

{faces}

Hershey strokes {hershey} (package Hershey-Fonts, MIT; strokes by A. V. Hershey, 1967, free with credit), and single-stroke forms
of our own (`fixtures/lettering_training/pens.py`).

Held out, for calibration and measuring only: {held}; Hershey {hershey_held}.
"""


def write_card(folder: Path, weights: Path, figures: dict[str, object], count: int) -> None:
    """Write ``MODEL_CARD.md`` into ``folder``; ``history.txt`` beside it, when there, tells of the training."""
    rows = []
    for name, row in figures.items():
        if isinstance(row, dict):
            cells = (
                "samples",
                "exact_free",
                "exact_with_grammars",
                "codes_free",
                "codes_with_grammars",
                "calibration_error",
                "precision_at_095",
                "share_at_095",
            )
            rows.append(f"| {name} | " + " | ".join(str(row[c]) for c in cells) + " |")
    history = folder / "history.txt"
    text = _HEAD.format(
        file=weights.name, size=weights.stat().st_size / 1e6, digest=sha256_of(weights), outputs=len(CHARACTERS) + 1, alphabet=CHARACTERS,
        history=history.read_text(encoding="utf-8").strip() if history.is_file() else "not recorded.",
        count=count, rows="\n".join(rows), faces="\n".join(f"- {p} ({lic}): {f}" for p, lic, f in PACKAGES),
        hershey=", ".join(HERSHEY), hershey_held=", ".join(HERSHEY_HELD_OUT), held="; ".join(f"{f.split('|')[0]} ({p}, {lic})" for p, lic, f in HELD_OUT),
    )  # fmt: skip
    (folder / "MODEL_CARD.md").write_text(text, encoding="utf-8")
