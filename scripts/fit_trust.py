"""Fit the weights of ``digitize.wiring.evidence_trust`` on drawn manuals.

``python -m scripts.fit_trust FOLDER...``: folders as ``python -m fixtures random`` writes them. Each is digitized (kept in
``FOLDER/readings.pickle``, made anew when missing), compared with its truth, and the weights are fitted on all; before that
each folder is left out once, to see how the weights hold on pages that they were not fitted on. Prints both.
"""

from __future__ import annotations

import argparse
import math
import pickle
import sys
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from digitize.harness.model import Harness
from digitize.settings import Settings, workers
from digitize.sheet.mapping import SheetMapping
from digitize.wiring.binding import bind
from digitize.wiring.evidence_trust import FEATURES, WEIGHTS, features
from fixtures import truth as truths
from fixtures.compare import _Comparer
from fixtures.compare_match import Key
from scripts.section import conventions_of, digitize_section

Rows = dict[str, list[tuple[tuple[float, ...], bool]]]
PULL_OF_ONE = 0.2
PULL = 2.0
"""Strength that holds each weight near "believe what it looks like"."""


def rows_of(folder: Path) -> Rows:
    """Features and rightness of every object of one drawn manual."""
    kept = folder / "readings.pickle"
    if not kept.exists():
        done = digitize_section(folder, workers(Settings(jobs=0)))
        readings = [o.result.reading for o in done.outcomes if o.result is not None]
        kept.write_bytes(pickle.dumps(readings))
    readings = pickle.loads(kept.read_bytes())  # noqa: S301  (written by the lines above)
    wirings = [r.wiring for r in readings if r.wiring is not None]
    tables = [r.table for r in readings if r.table is not None]
    harness = bind(wirings, tables, conventions_of(folder), weigh=False)
    return labelled(harness, truths.read(folder / "truth.json"), {r.facts.sheet: r.facts.mapping for r in readings})


def labelled(harness: Harness, truth: truths.Truth, mappings: dict[str, SheetMapping]) -> Rows:
    """Every object's features with whether the truth has it."""
    comparer = _Keeping(harness, truth, mappings)
    comparer.run()
    right = set(comparer.matched) | {harness.wires[j].id for j in comparer.found.values()}
    return {kind: [(x, id_ in right) for id_, x in by_id.items()] for kind, by_id in features(harness).items()}


class _Keeping(_Comparer):
    """The project's comparer; it also keeps which wire of the harness is which of the truth."""

    found: dict[int, int]

    def _codes(self, true: list[tuple[Key, Key]], read: list[tuple[Key, Key]], found: dict[int, int]) -> None:
        self.found = dict(found)
        super()._codes(true, read, found)


def fitted(rows: list[tuple[tuple[float, ...], bool]]) -> NDArray[np.float64]:
    """Weights by penalised logistic regression."""
    x = np.array([r[0] for r in rows])
    y = np.array([1.0 if r[1] else -1.0 for r in rows])
    usual = np.zeros(x.shape[1])
    usual[1] = 1.0

    def loss(w: NDArray[np.float64]) -> float:
        return float(
            np.logaddexp(0.0, -y * (x @ w)).sum() + PULL * ((w - usual) ** 2)[1:].sum() + PULL_OF_ONE * w[0] ** 2
        )

    return np.asarray(minimize(loss, usual, method="L-BFGS-B").x, dtype=np.float64)


def error(rows: list[tuple[tuple[float, ...], bool]], weights: NDArray[np.float64]) -> tuple[float, float]:
    """(mean log loss, expected calibration error over ten bins)."""
    x = np.array([r[0] for r in rows])
    y = np.array([float(r[1]) for r in rows])
    p = np.clip(1.0 / (1.0 + np.exp(-x @ weights)), 1e-4, 0.998)
    loss = float(-(y * np.log(p) + (1 - y) * np.log(1 - p)).mean())
    bins = np.minimum((p * 10).astype(int), 9)
    ece = sum(abs(float((p - y)[bins == b].sum())) for b in range(10)) / len(y)
    return loss, ece


def main() -> int:
    """Parse, fit, print."""
    parser = argparse.ArgumentParser(prog="python -m scripts.fit_trust", description=__doc__)
    parser.add_argument("folders", type=Path, nargs="+")
    sections = [rows_of(f) for f in parser.parse_args().folders]
    for kind, names in FEATURES.items():
        usual = np.zeros(len(names))
        usual[1] = 1.0
        ours = np.array(WEIGHTS[kind])
        held: list[tuple[float, ...]] = []
        for i, section in enumerate(sections):
            rest = [r for j, s in enumerate(sections) if j != i for r in s[kind]]
            if section[kind] and rest:
                ways = (usual, ours, fitted(rest))
                held.append(tuple(v for weights in ways for v in error(section[kind], weights)))
        everything = [r for s in sections for r in s[kind]]
        weights = fitted(everything)
        mean = [math.fsum(h[k] for h in held) / max(len(held), 1) for k in range(6)]
        wrong = sum(not r[1] for r in everything)
        print(f"# {kind}: {len(everything)} objects, {wrong} wrong. Log loss and calibration error, by looks alone "
              f"{mean[0]:.3f} {mean[1]:.3f}, by the weights in use {mean[2]:.3f} {mean[3]:.3f}, fitted without that folder "
              f"{mean[4]:.3f} {mean[5]:.3f}")  # fmt: skip
        print(f'    "{kind}": ({", ".join(f"{w:.2f}" for w in weights)}),')
        print("    # " + ", ".join(f"{n} {w:.2f}" for n, w in zip(names, weights, strict=True)))
    return 0


if __name__ == "__main__":
    sys.exit(main())
