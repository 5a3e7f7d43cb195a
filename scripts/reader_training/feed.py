"""Fresh samples without end, made by worker processes and collected in batches of like width."""

from __future__ import annotations

import random
import sys
from collections.abc import Iterator
from pathlib import Path

import cv2
import numpy as np
import torch

from digitize.reading.alphabet import CHARACTERS
from digitize.reading.lettering import HEIGHT, PAPER
from fixtures.lettering_training.crop_file import load_crops
from fixtures.lettering_training.faces import load
from fixtures.lettering_training.samples import LONGEST, WIDEST, network_sample

OF_PAGES = 0.18
"""Share of samples that were cut out of drawn pages."""

COLUMN = {c: i + 1 for i, c in enumerate(CHARACTERS)}
Batch = tuple[torch.Tensor, torch.Tensor, torch.Tensor, torch.Tensor]
"""Pictures uint8 (n, HEIGHT, W), labels uint8 (n, LONGEST + 4), widths (n,), label lengths (n,)."""


class Stream(torch.utils.data.IterableDataset[Batch]):
    """Batches of ``size`` from the faces of ``use``; worker ``i`` draws from seed ``seed * 1000 + i``.

    ``pages``: a file of crops of drawn pages (``page_crops.save``), mixed in with a share of ``OF_PAGES``.
    """

    def __init__(
        self, faces: Path, use: str, seed: int, size: int = 128, chunk: int = 1024, pages: Path | None = None
    ) -> None:
        self.faces, self.use, self.seed, self.size, self.chunk, self.pages = faces, use, seed, size, chunk, pages

    def __iter__(self) -> Iterator[Batch]:
        cv2.setNumThreads(1)
        worker = torch.utils.data.get_worker_info()
        r = random.Random(self.seed * 1000 + (worker.id if worker else 0))
        faces = load(self.faces, self.use)
        drawn = load_crops(self.pages) if self.pages is not None else []
        failed = 0
        while True:
            made = []
            while len(made) < self.chunk:
                if drawn and r.random() < OF_PAGES:
                    picture, text = r.choice(drawn)
                    if picture.shape[1] <= WIDEST and len(text) <= LONGEST + 4:
                        made.append((picture, text))
                    continue
                try:
                    picture, text = network_sample(faces, r)
                except (ValueError, cv2.error) as error:  # one odd sample must not end a run on a lent machine
                    failed += 1
                    print(f"sample left out: {error}", file=sys.stderr, flush=True)
                    if failed > 50:
                        raise
                    continue
                if picture.shape[1] <= WIDEST and 0 < len(text) <= LONGEST + 4:
                    made.append((picture, text))
            made.sort(key=lambda s: s[0].shape[1])
            for start in range(0, self.chunk, self.size):
                yield batched(made[start : start + self.size])


def batched(made: list[tuple[np.ndarray, str]]) -> Batch:
    """One batch, padded with paper on the right to a multiple of 16 columns."""
    width = -(-max(p.shape[1] for p, _ in made) // 16) * 16
    pictures = np.full((len(made), HEIGHT, width), PAPER, np.uint8)
    labels = np.zeros((len(made), LONGEST + 4), np.uint8)
    for k, (picture, text) in enumerate(made):
        pictures[k, :, : picture.shape[1]] = picture
        labels[k, : len(text)] = [COLUMN[c] for c in text]
    return (
        torch.from_numpy(pictures), torch.from_numpy(labels),
        torch.tensor([p.shape[1] for p, _ in made]), torch.tensor([len(t) for _, t in made]),
    )  # fmt: skip
