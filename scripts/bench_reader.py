"""``scripts/bench reader``: all readers of this machine on one crop set, plain and touching, in one run.

The set is ``fixtures/lettering_training/study_set.py``, in faces held out of the training: those gathered with
``scripts/train_reader --gather`` where they are given, else the held-out Hershey face alone. Exact but for spaces.
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

import cv2

from digitize.reading.alphabet import folded
from digitize.reading.engines import Reader
from digitize.reading.readers import probe_readers
from fixtures.lettering_training.faces import HERSHEY_HELD_OUT, hershey_faces, load
from fixtures.lettering_training.samples import Sample
from fixtures.lettering_training.study_set import study_set


def exact(reader: Reader, samples: list[Sample]) -> tuple[float, dict[str, float], float]:
    """Share read exactly, the same for each kind of string, and milliseconds of wall time a crop."""
    start = time.perf_counter()
    said = reader.read([s.crop for s in samples])
    spent = time.perf_counter() - start
    right = [folded(a.text).replace(" ", "") == b.text.replace(" ", "") for a, b in zip(said, samples, strict=True)]
    kinds = {}
    for kind in sorted({s.kind for s in samples}):
        own = [ok for ok, s in zip(right, samples, strict=True) if s.kind == kind]
        kinds[kind] = sum(own) / len(own)
    return sum(right) / max(1, len(right)), kinds, 1000 * spent / max(1, len(samples))


def main(arguments: list[str] | None = None) -> int:
    """Print one row for each reader and group."""
    parser = argparse.ArgumentParser(prog="scripts/bench reader", description=(__doc__ or "").split("\n\n")[0])
    parser.add_argument("--count", type=int, default=1000, help="strings; each stands in both groups")
    parser.add_argument("--faces", type=Path, help="faces that scripts/train_reader --gather wrote")
    given = parser.parse_args(arguments)
    cv2.setNumThreads(1)
    faces = load(given.faces, "held") if given.faces else hershey_faces(HERSHEY_HELD_OUT)
    groups = dict(zip(("plain", "touching"), study_set(faces, given.count), strict=True))
    readers = probe_readers()
    print(f"{'reader':<40} {'group':<9} {'crops':>5} {'exact':>6} {'code':>6} {'conn.':>6} {'name':>6} {'ms/crop':>8}")
    for reader in (readers.first, *readers.others):
        for name, group in groups.items():
            share, kinds, each = exact(reader, group)
            figures = " ".join(f"{kinds.get(k, float('nan')):>6.3f}" for k in ("code", "connector", "name"))
            print(f"{reader.name:<40} {name:<9} {len(group):>5} {share:>6.3f} {figures} {each:>8.2f}")
    for note in readers.notes:
        print(note)
    return 0


if __name__ == "__main__":
    sys.exit(main())
