"""Calibrate a shipped network on held-out faces, measure it, and write ``calibration.json`` and the model card."""

from __future__ import annotations

import json
import random
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import cv2

from digitize.reading.calibrate import Calibration, Curve, expected_error, fitted, shape_of
from digitize.reading.decode import Walk
from digitize.reading.lettering import Lettering, sha256_of
from digitize.reading.read import Searched, searched
from digitize.reading.weigh import weighed
from fixtures.lettering_training.faces import load
from fixtures.lettering_training.manuals import manual
from fixtures.lettering_training.samples import Sample, sample
from scripts.reader_training.card import write_card

SEED = 4242
MANUALS = 12


@dataclass(frozen=True, slots=True)
class Outcome:
    """One held-out sample read: the word probability (``free``) or share of belief (``chosen``) and whether it was right."""

    level: str
    kind: str
    free_kind: str
    free: float
    free_right: bool
    chosen_kind: str
    chosen: float
    chosen_right: bool
    text: str
    said: str


def measured(reader: Lettering, faces_file: Path, count: int, seed: int = SEED) -> list[Outcome]:
    """Read ``count`` samples in held-out faces, strings of ``MANUALS`` invented manuals, freely and with their grammars."""
    cv2.setNumThreads(1)
    faces = load(faces_file, "held")
    r = random.Random(seed)
    manuals = [manual(r) for _ in range(MANUALS)]
    samples: list[tuple[int, Sample]] = []
    for i in range(count):
        at = i % MANUALS
        samples.append((at, sample(faces, r, made=manuals[at].any_string(r))))
    walks = [{k: Walk(a) for k, a in m.grammars.items()} for m in manuals]
    sightings = reader.read([s.crop for _, s in samples])
    return [_outcome(s, searched(sighting, walks[at])) for (at, s), sighting in zip(samples, sightings, strict=True)]


def _outcome(s: Sample, found: Searched) -> Outcome:
    free, by_kind = found
    verdict = weighed(free, by_kind)
    best = free[0]
    return Outcome(
        s.level, s.kind, shape_of(best.text), best.probability, _same(best.text, s.text),
        f"{verdict.kind}+" if verdict.fits else "free+", verdict.share, _same(verdict.text, s.text), s.text, verdict.text,
    )  # fmt: skip


def _same(a: str, b: str) -> bool:
    """Alike but for spaces and case: a reading is exact when the characters are."""
    return a.replace(" ", "").upper() == b.replace(" ", "").upper()


def fit_and_write(folder: Path, faces_file: Path, count: int) -> None:
    """Fit on one half, measure on the other, write ``calibration.json`` and ``MODEL_CARD.md`` into ``folder``."""
    weights = folder / "lettering-1.onnx"
    reader = Lettering(weights)
    start = time.time()
    outcomes = measured(reader, faces_file, count)
    spent = time.time() - start
    half = len(outcomes) // 2
    to_fit, to_check = outcomes[:half], outcomes[half:]
    curves = _curves(to_fit)
    (folder / "calibration.json").write_text(
        json.dumps(
            {
                "reader": reader.name,
                "weights_sha256": sha256_of(weights),
                "method": "logistic curve over the log odds of the word's probability, for each kind of string",
                "fitted_on": f"{len(to_fit)} generated held-out samples, seed {SEED}",
                "curves": {
                    k: {"slope": round(c.slope, 4), "offset": round(c.offset, 4)} for k, c in sorted(curves.items())
                },
            },
            indent=1,
        )
        + "\n",
        encoding="utf-8",
    )
    calibration = Calibration({k: c for k, c in curves.items() if k != "other"}, curves["other"])
    figures = figures_of(to_check, calibration)
    figures["seconds_for_measuring"] = round(spent, 1)
    print(json.dumps(figures, indent=1))
    write_card(folder, weights, figures, count)


def _curves(outcomes: Sequence[Outcome]) -> dict[str, Curve]:
    pairs: dict[str, list[tuple[float, bool]]] = {"other": []}
    for o in outcomes:
        pairs.setdefault(o.free_kind, []).append((o.free, o.free_right))
        pairs.setdefault(o.chosen_kind, []).append((o.chosen, o.chosen_right))
        pairs["other"].append((o.free, o.free_right))
    return {k: fitted([p for p, _ in v], [y for _, y in v]) for k, v in pairs.items() if len(v) >= 20}


def figures_of(outcomes: Sequence[Outcome], calibration: Calibration) -> dict[str, object]:
    """Shares exact, calibration error and precision, over all and by level."""
    out: dict[str, object] = {}
    groups = {"all": list(outcomes)} | {
        level: [o for o in outcomes if o.level == level] for level in ("clean", "medium", "heavy")
    }
    for name, some in groups.items():
        if not some:
            continue
        chance = [calibration.chance(o.chosen_kind, o.chosen) for o in some]
        free_chance = [calibration.chance(o.free_kind, o.free) for o in some]
        sure = [o.chosen_right for o, c in zip(some, chance, strict=True) if c >= 0.95]
        codes = [o for o in some if o.kind == "code"]
        out[name] = {
            "samples": len(some),
            "exact_free": _share([o.free_right for o in some]),
            "exact_with_grammars": _share([o.chosen_right for o in some]),
            "codes_free": _share([o.free_right for o in codes]),
            "codes_with_grammars": _share([o.chosen_right for o in codes]),
            "calibration_error_free": round(expected_error(free_chance, [o.free_right for o in some]), 4),
            "calibration_error": round(expected_error(chance, [o.chosen_right for o in some]), 4),
            "precision_at_095": _share(sure),
            "share_at_095": round(len(sure) / len(some), 4),
        }
    return out


def _share(right: Sequence[bool]) -> float | None:
    return round(sum(right) / len(right), 4) if right else None
