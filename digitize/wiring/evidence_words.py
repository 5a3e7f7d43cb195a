"""Words that stand again and again in a manual's names put right a word that differs from one of them by a look-alike.

Bayes' rule for a name with a word seen nowhere else: a manual that writes ``INDICATOR`` a dozen times hardly ever has an
``INOICATOR`` too, while a worn ``D`` is often read as ``O``. The chance of the letters comes from the reading itself
(``evidence.Reading.chance``), the odds of the words from ``NEW_WORD``.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from rapidfuzz.distance import Levenshtein

from digitize.harness.claim import Alternative, Claim
from digitize.wiring.evidence import LIKE_LETTERS, MOST_SURE, reading_of

NEW_WORD = 1e-4
"""How often a word that is new is a look-alike of a word that stands elsewhere, against that word (own choice)."""
SEEN_OFTEN = 2
"""In so many other names a word must stand to be known."""
LEAST_LETTERS = 4
"""Shorter words are too easily one another's look-alikes."""


@dataclass(frozen=True, slots=True)
class Words:
    """How often each word stands among the names of a manual, each name counted once for it."""

    counted: Mapping[str, int]

    @staticmethod
    def of(names: Iterable[Claim]) -> Words:
        """Count the words of all names, drawn and listed."""
        return Words(Counter(w for c in names for w in set((c.value or "").split())))

    def respelled(self, name: Claim) -> Claim:
        """The name with one odd word put right, when that is likelier than the word as read; else the same claim."""
        reading = reading_of(name)
        if name.value is None or reading is None:
            return name
        words = name.value.split()
        weights = {a.text: a.probability for a in reading.alternatives}
        odd = False
        for k, word in enumerate(words):
            if self.counted.get(word, 0) > 1 or len(word) < LEAST_LETTERS or not word.isalnum():
                continue
            for other in self._like(word):
                odd = True
                text = " ".join((*words[:k], other, *words[k + 1 :]))
                weights[text] = max(weights.get(text, 0.0), reading.chance(text)) / NEW_WORD
        if not odd:
            return name
        # the rest stays as likely as it was against the name as read
        total = sum(weights.values()) + reading.rest
        ranked = tuple(
            Alternative(t, min(p / total, MOST_SURE)) for t, p in sorted(weights.items(), key=lambda i: (-i[1], i[0]))
        )[:8]
        if ranked[0].text == name.value:
            return name
        return replace(name, value=ranked[0].text, probability=ranked[0].probability, alternatives=ranked)

    def _like(self, word: str) -> list[str]:
        """Known words of the same length that differ from ``word`` by one letter that prints alike."""
        found = []
        for other, n in self.counted.items():
            if n < SEEN_OFTEN or len(other) != len(word) or Levenshtein.distance(word, other, score_cutoff=1) != 1:
                continue
            pair = {next((a, b) for a, b in zip(word, other, strict=True) if a != b)}
            if any(a in group and b in group for a, b in pair for group in LIKE_LETTERS):
                found.append(other)
        return found


__all__ = ["Words"]
