"""Fit how far a reading on a page is believed, on drawn pages alone, and measure it on others.

``python -m scripts.fit_lettering [--fit-on N ...] [--measure-on N ...]``: draws sections in every style and wear (fifteen
pairs, so 0 to 14 has each once), in own and other faces, finds and reads all lettering, fits
``digitize.reading.trust.Trust`` for each kind of string on some sections and measures on others. Writes ``trust.json`` and ``TRUST.md`` (reliability by kind and wear) beside the weights.
"""

from __future__ import annotations

import argparse
import json
import pickle
import random
import sys
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from itertools import pairwise
from pathlib import Path

import cv2

from digitize.reading.calibrate import expected_error
from digitize.reading.readers import TRUST, probe_readers
from digitize.reading.trust import SIGNS, Trust, fitted_trust, trust_kind
from fixtures.lettering_training.drawn_pages import LEVELS, STYLE_NAMES, DrawnPage, drawn_pages
from fixtures.lettering_training.pages_read import BlockRead, blocks_read

SEED_FIT, SEED_MEASURE = 5000, 7000
LEAST = 40
BINS = (0.0, 0.1, 0.3, 0.5, 0.7, 0.9, 0.95, 0.98, 0.995, 1.0001)


def section_blocks(seed: int, number: int) -> list[BlockRead]:
    """All blocks of one drawn section as they are read; style and wear follow from ``number``."""
    cv2.setNumThreads(1)
    return list(blocks_read(_pages(seed, number), probe_readers()))


def _pages(seed: int, number: int) -> Iterator[DrawnPage]:
    pairs = [(style, level) for level in LEVELS for style in STYLE_NAMES]
    random.Random(4).shuffle(pairs)
    style, level = pairs[number % len(pairs)]
    return drawn_pages(seed + number, style, level, own_face=number % 3 != 0)


def fit(blocks: Sequence[BlockRead]) -> Trust:
    """The weights for each kind that has enough blocks, and ``other`` for all together."""
    return fitted_trust([(trust_kind(b.kind, b.text), b.signs, b.right) for b in blocks], least=LEAST)


def figures(blocks: Sequence[BlockRead], trust: Trust) -> dict[str, float]:
    """Calibration error, precision of and share at 0.95 or more, share right."""
    chance = [trust.chance(b.kind, b.text, b.signs) for b in blocks]
    right = [b.right for b in blocks]
    sure = [ok for c, ok in zip(chance, right, strict=True) if c >= 0.95]
    return {
        "blocks": len(blocks),
        "right": round(sum(right) / max(1, len(right)), 4),
        "error": round(expected_error(chance, right), 4) if blocks else 0.0,
        "at_095": round(sum(sure) / max(1, len(sure)), 4),
        "share_095": round(len(sure) / max(1, len(blocks)), 4),
    }


def told(
    blocks: Sequence[BlockRead], trust: Trust, fitted_on: int, sections: tuple[Sequence[int], Sequence[int]]
) -> str:
    """The reliability as Markdown. ``sections``: the numbers of those fitted on and those measured on."""
    first, second = (", ".join(map(str, numbers)) for numbers in sections)
    lines = [
        "# How far readings on a page are believed",
        "",
        f"Made by `python -m scripts.fit_lettering` on drawn pages alone: fitted on {fitted_on} blocks (seed {SEED_FIT}, sections",
        f"{first}), measured on {len(blocks)} blocks of other sections (seed {SEED_MEASURE}, sections {second}), in",
        "their own and in other faces. A block counts as right when what is read is printed there exactly, but for case and",
        "spaces; a speck that is read as anything counts as wrong. Drawn pages flatter; real scans decide.",
        "",
        "| group | blocks | right | calibration error | precision at 0.95 | share at 0.95 |",
        "| --- | --- | --- | --- | --- | --- |",
    ]
    groups: list[tuple[str, list[BlockRead]]] = [("all", list(blocks))]
    groups += [(level, [b for b in blocks if b.level == level]) for level in LEVELS]
    kinds = sorted({trust_kind(b.kind, b.text) for b in blocks})
    groups += [(kind, [b for b in blocks if trust_kind(b.kind, b.text) == kind]) for kind in kinds]
    for name, some in groups:
        f = figures(some, trust)
        lines.append(f"| {name} | {f['blocks']} | {f['right']} | {f['error']} | {f['at_095']} | {f['share_095']} |")
    lines += ["", "| believed | blocks | mean chance | share right |", "| --- | --- | --- | --- |"]
    pairs = [(trust.chance(b.kind, b.text, b.signs), b.right) for b in blocks]
    for low, high in pairwise(BINS):
        inside = [(c, ok) for c, ok in pairs if low <= c < high]
        if inside:
            mean, share = sum(c for c, _ in inside) / len(inside), sum(ok for _, ok in inside) / len(inside)
            lines.append(f"| {low:g} to {min(high, 1):g} | {len(inside)} | {mean:.3f} | {share:.3f} |")
    return "\n".join(lines) + "\n"


def main(arguments: list[str] | None = None) -> int:
    """Draw, read, fit, measure, write."""
    parser = argparse.ArgumentParser(prog="scripts/fit_lettering", description=(__doc__ or "").split("\n\n")[0])
    parser.add_argument("--fit-on", type=int, nargs="+", default=list(range(15)), help="numbers of sections to fit on")
    parser.add_argument("--measure-on", type=int, nargs="+", default=list(range(15)), help="and to measure on")
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--kept", type=Path, help="blocks kept from an earlier run (pickle); written when missing")
    parser.add_argument("--to", type=Path, default=TRUST)
    given = parser.parse_args(arguments)
    if given.kept and given.kept.is_file():
        to_fit, to_measure = pickle.loads(given.kept.read_bytes())  # noqa: S301  our own file
    else:
        with ProcessPoolExecutor(given.jobs) as pool:
            to_fit, to_measure = (
                [b for part in pool.map(section_blocks, [seed] * len(numbers), numbers) for b in part]
                for seed, numbers in ((SEED_FIT, given.fit_on), (SEED_MEASURE, given.measure_on))
            )
        if given.kept:
            given.kept.write_bytes(pickle.dumps((to_fit, to_measure)))
    trust = fit(to_fit)
    report = {"all": figures(to_measure, trust)} | {
        level: figures([b for b in to_measure if b.level == level], trust) for level in LEVELS
    }
    weights = {k: [round(v, 4) for v in w] for k, w in trust.weights.items()}
    kept = {
        "fitted_on": len(to_fit),
        "measured_on": len(to_measure),
        "figures": report,
        "signs": SIGNS,
        "weights": weights,
    }
    given.to.write_text(json.dumps(kept, indent=1) + "\n", encoding="utf-8")
    text = told(to_measure, trust, len(to_fit), (given.fit_on, given.measure_on))
    given.to.with_name("TRUST.md").write_text(text, encoding="utf-8")
    print(text)
    return 0


if __name__ == "__main__":
    sys.exit(main())
