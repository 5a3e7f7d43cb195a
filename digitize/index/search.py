"""Find things by what is printed on them, or by their zone: exactly, by their beginning, by words in any order, by looks."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from rapidfuzz import fuzz, process

from digitize.harness.folding import LOOK_ALIKES, folded, plain, solid, words_of
from digitize.harness.model import Harness
from digitize.index.entries import Entry, entries_of

WAYS = ("exact", "in zone", "starts", "words", "within", "look-alike", "about", "alike")
"""How an entry can fit what was asked for, best first (see ``Found.how``)."""

NEAR = 78.0
"""Least likeness (rapidfuzz ratio of folded strings, 0..100) of what is offered when nothing fits (own choice)."""

SHORTEST_ALIKE = 3
"""Letters below which anything is like anything."""

MOST = 50


@dataclass(frozen=True, slots=True)
class Found:
    """An entry that fits.

    ``how``: ``exact`` (the same words), ``in zone`` (stands in the zone asked for), ``starts`` (begins so), ``words``
    (has all the words, in any order, each at least by its beginning), ``within`` (holds it), ``look-alike`` (the same
    once I/1, O/0, S/5, B/8, G/6, Z/2 count as one), ``about`` (words of its kind, zone or place in the vehicle were
    needed), ``alike`` (spelled similarly; only when nothing else fits). ``likeness`` 0..1, 1 but for ``alike``.
    ``own``: so many of the words asked for are whole words of what is printed there.
    """

    entry: Entry
    how: str
    likeness: float = 1.0
    own: int = 0


@dataclass(frozen=True, slots=True)
class _Known:
    entry: Entry
    plain: str
    folded: str
    solid: str
    words: tuple[str, ...]
    about: tuple[str, ...]


class Index:
    """Everything that can be found in one harness. Build once, ask often; 10,000 wires are searched in about 50 ms."""

    def __init__(self, harness: Harness) -> None:
        self._sheets = {s.id: s.number for s in harness.sheets}
        pages = {s.id: (s.label or "", str(s.number)) for s in harness.sheets}
        self._known = [_known(e, pages.get(e.sheet, ())) for e in entries_of(harness)]
        self._zones: dict[str, list[int]] = {}
        for i, k in enumerate(self._known):
            for zone in k.entry.zones:
                self._zones.setdefault(plain(zone), []).append(i)

    def find(self, asked: str, limit: int = MOST) -> tuple[Found, ...]:
        """What fits ``asked``, best first: by way of fitting, then surest first, then in the manual's order.

        Args:
            asked: a name, part of one, a code with or without its spaces, an id, or a zone (``C5`` or ``5C``).
            limit: most results.
        """
        typed = plain(asked)
        if not typed:
            return ()
        by_entry: dict[int, Found] = {}
        for i, how in self._fitting(asked.strip(), typed):
            if i not in by_entry:
                k = self._known[i]
                by_entry[i] = Found(k.entry, how, own=len({*words_of(asked)} & {*k.words}))
        found = list(by_entry.values()) or self._alike(typed)
        return tuple(sorted(found, key=self._rank)[:limit])

    def nearest(self, asked: str, limit: int = 5) -> tuple[str, ...]:
        """Names and codes spelled most like ``asked``, for an offer when nothing fits; no limit on how unlike they are."""
        names = list(dict.fromkeys(k.entry.text for k in self._known if k.entry.text and k.entry.kind != "text"))
        like = process.extract(folded(asked), [folded(n) for n in names], scorer=fuzz.WRatio, limit=limit)
        return tuple(names[i] for _, score, i in like if score > 0)

    def _fitting(self, asked: str, typed: str) -> Iterator[tuple[int, str]]:
        looks, gapless = folded(asked), solid(asked)
        words, looks_of_words = words_of(asked), tuple(w.translate(LOOK_ALIKES) for w in words_of(asked))
        for zone in _as_zone(typed):
            for i in self._zones.get(zone, ()):
                yield i, "in zone"
        for i, k in enumerate(self._known):
            if typed == k.plain or asked == k.entry.id:
                yield i, "exact"
            elif k.plain.startswith(typed):
                yield i, "starts"
            elif _all_begin(words, k.words):
                yield i, "words"
            elif typed in k.plain:
                yield i, "within"
            elif gapless == k.solid or looks in k.folded or _all_begin(looks_of_words, tuple(k.folded.split())):
                yield i, "look-alike"
            elif _all_begin(words, k.about):
                yield i, "about"

    def _alike(self, typed: str) -> list[Found]:
        looks = typed.translate(LOOK_ALIKES)
        if len(looks) < SHORTEST_ALIKE:
            return []
        like = process.extract(looks, [k.folded for k in self._known], scorer=fuzz.ratio, score_cutoff=NEAR, limit=MOST)
        return [Found(self._known[i].entry, "alike", score / 100) for _, score, i in like]

    def _rank(self, f: Found) -> tuple[int, float, int, bool, float, int, str, str, str]:
        e = f.entry
        number = self._sheets.get(e.sheet, len(self._sheets) + 1)
        return (
            WAYS.index(f.how),
            -f.likeness,
            -f.own,
            e.kind == "text",
            -round(e.probability, 2),
            number,
            e.zone,
            e.text,
            e.id,
        )


def _known(e: Entry, page: tuple[str, ...]) -> _Known:
    about = words_of(" ".join((e.text, e.kind, e.zone, *e.zones, e.about, "page", *page)))
    return _Known(e, plain(e.text), folded(e.text), solid(e.text), words_of(e.text), about)


def _all_begin(asked: tuple[str, ...], words: tuple[str, ...]) -> bool:
    """Whether every asked word begins some word."""
    return bool(asked) and all(any(w.startswith(a) for w in words) for a in asked)


def _as_zone(typed: str) -> tuple[str, ...]:
    """The zones that ``typed`` may mean: as it stands, and with letter and number changed round (``5c`` for ``c5``)."""
    text = typed.removeprefix("zone ").replace(" ", "")
    letters = text.strip("0123456789")
    if not letters.isalpha() or len(letters) > 2 or len(text) == len(letters):
        return ()
    digits = text.removeprefix(letters) if text.startswith(letters) else text.removesuffix(letters)
    return (f"{letters}{digits}", f"{digits}{letters}") if digits.isdigit() else ()
