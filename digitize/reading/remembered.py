"""A reader that remembers: the same crop is looked at once, however often it is read along other grammars."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence

from digitize.reading.engines import Grey, Reader, Sighting

Memory = dict[bytes, Sighting]
"""What was seen, by the fingerprint of its crop."""


class Remembering:
    """A reader before which the same crops come again; ``memory`` grows with every crop and can be kept between runs."""

    def __init__(self, reader: Reader, memory: Memory | None = None) -> None:
        self.reader = reader
        self.memory: Memory = {} if memory is None else memory

    @property
    def name(self) -> str:
        """The name of the reader that looked."""
        return self.reader.name

    def read(self, crops: Sequence[Grey]) -> list[Sighting]:
        """Read all ``crops``, asking the reader only about those it has not seen."""
        prints = [_fingerprint(crop) for crop in crops]
        new = {key: i for i, key in enumerate(prints) if key not in self.memory}
        if new:
            seen = self.reader.read([crops[i] for i in new.values()])
            self.memory.update(zip(new, seen, strict=True))
        return [self.memory[key] for key in prints]


def _fingerprint(crop: Grey) -> bytes:
    return hashlib.blake2b(repr(crop.shape).encode() + crop.tobytes(), digest_size=16).digest()
