"""Search the reader's own probabilities for strings: all strings, or only those a grammar allows.

CTC prefix beam search (the usual method; Graves 2006 for the sum over alignments). The same search gives ranked
alternatives. A string's probability is the sum over its alignments and stays "over all strings": a grammar only
decides which strings are looked at, it does not share their mass out anew.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from digitize.legend.automaton import Automaton
from digitize.reading.alphabet import BLANK, CHARACTERS, folded
from digitize.reading.engines import Frames

Step = tuple[float, tuple[tuple[str, float], ...]]


@dataclass(frozen=True, slots=True)
class Found:
    """A string and its probability over all strings, 0..1 (a lower bound: pruned alignments are left out)."""

    text: str
    probability: float


@dataclass(frozen=True, slots=True)
class Lattice:
    """Frames made ready for searching: for each step the chance of a blank and of each character worth a thought.

    Frames that are surely blank say nothing but "a letter ended here"; a run of them is one step.
    """

    steps: tuple[Step, ...]

    @staticmethod
    def of(frames: Frames, least: float = 3e-6, most: int = 12) -> Lattice:
        """Keep, in each frame, up to ``most`` characters of probability ``least`` or more."""
        p = np.exp(frames.astype(np.float64))
        steps: list[Step] = []
        blank_run = 1.0
        idle = False
        characters = p[:, 1:]
        order = np.argpartition(-characters, most, axis=1)[:, :most] if characters.shape[1] > most else None
        for t in range(len(p)):
            b = float(p[t, BLANK])
            if b > 0.9997:
                blank_run *= b
                idle = True
                continue
            if idle:
                steps.append((blank_run, ()))
                blank_run, idle = 1.0, False
            row = characters[t]
            columns: Iterable[int] = range(len(row)) if order is None else order[t]
            kept = sorted(((float(row[c]), CHARACTERS[c]) for c in columns if row[c] > least), reverse=True)
            steps.append((b, tuple((c, q) for q, c in kept)))
        if idle:
            steps.append((blank_run, ()))
        return Lattice(tuple(steps))


LOST = 0.05
"""Chance that a copy lost a point or a comma without a trace (common practice, no source)."""

STRAY = 0.03
"""Chance that a dash or point read before or behind a string is the end of its wire, or dirt."""

_LOSABLE = ".,"
_ONE_SIGN = {".": ",", ",": "."}
"""Seen so, the sign may be the other one too where the grammar has only that: in small lettering they are alike, and only
the conventions say which of them parts the figures of a gauge."""
_STRAYS = "-.,'"

Way = tuple[str, int, float]
"""What to write (in the grammar's own form), the state after it, what it costs."""


class Walk:
    """An automaton with its steps remembered; make one for each grammar and use it for all texts of a sheet."""

    __slots__ = ("_known", "_plain", "automaton")

    def __init__(self, automaton: Automaton) -> None:
        self.automaton = automaton
        self._plain: dict[int, dict[str, tuple[str, int]]] = {}
        self._known: dict[int, tuple[dict[str, tuple[Way, ...]], bool]] = {}

    def plain(self, state: int) -> dict[str, tuple[str, int]]:
        """For each character of the reader's alphabet that leads on from ``state``: the grammar's own form and the state.

        The grammar's own form may be a small letter or another dash; where it has both cases, the capital stands.
        """
        row = self._plain.get(state)
        if row is None:
            row = self._plain[state] = {}
            for char in sorted(self.automaton.letters(state), key=lambda c: (not c.isupper(), c)):
                to = self.automaton.step(state, char)
                seen = folded(char) or (" " if char == " " else "")
                if to is not None and len(seen) == 1:
                    row.setdefault(seen, (char, to))
        return row

    def ways(self, state: int) -> tuple[dict[str, tuple[Way, ...]], bool]:
        """The ways on from ``state`` for each character seen, with and without a lost point; and whether it may end."""
        known = self._known.get(state)
        if known is None:
            found: dict[str, list[Way]] = {c: [(form, to, 1.0)] for c, (form, to) in self.plain(state).items()}
            for seen, meant in _ONE_SIGN.items():
                if meant in found and seen not in found:
                    found[seen] = found[meant][:1]
            for sign in _LOSABLE:
                if sign in self.plain(state):
                    form, middle = self.plain(state)[sign]
                    for char, (own, to) in self.plain(middle).items():
                        if char != " ":
                            found.setdefault(char, []).append((form + own, to, LOST))
            known = self._known[state] = ({c: tuple(w) for c, w in found.items()}, self.automaton.accepts(state))
        return known

    def accepts(self, text: str) -> bool:
        """True when ``text``, as printed, belongs to the language."""
        state = 0
        for char in text:
            to = self.automaton.step(state, char)
            if to is None:
                return False
            state = to
        return self.automaton.accepts(state)

    def takes(self, text: str) -> str | None:
        """The grammar's own form of the folded ``text``, None when the language does not hold it."""
        state = 0
        own: list[str] = []
        for char in text:
            to = self.plain(state).get(char)
            if to is None:
                return None
            own.append(to[0])
            state = to[1]
        return "".join(own) if self.automaton.accepts(state) else None


def search_free(lattice: Lattice, width: int = 8, keep: int = 5) -> tuple[Found, ...]:
    """The ``keep`` most probable strings, best first. Spaces at the ends and doubled spaces are never reported."""
    beams: dict[str, tuple[float, float]] = {"": (1.0, 0.0)}
    for blank, candidates in lattice.steps:
        if not candidates:
            beams = {s: ((b + n) * blank, 0.0) for s, (b, n) in beams.items()}
            continue
        likely = [c for c in candidates if c[1] > 1e-4] or list(candidates[:1])
        ends: dict[str, list[float]] = {}
        for text, (b, n) in beams.items():
            both = b + n
            entry = ends.get(text)
            if entry is None:
                entry = ends[text] = [0.0, 0.0]
            entry[0] += both * blank
            last = text[-1:]
            for char, q in likely:
                if char == last:
                    entry[1] += n * q
                    gain = b * q
                else:
                    gain = both * q
                if gain <= 0.0 or (char == " " and (not text or last == " ")):
                    if char == " " and gain > 0.0:
                        entry[0] += gain
                    continue
                longer = text + char
                other = ends.get(longer)
                if other is None:
                    ends[longer] = [0.0, gain]
                else:
                    other[1] += gain
        beams = _best(ends, width)
    merged: dict[str, float] = {}
    for text, (b, n) in beams.items():
        trimmed = text.rstrip()
        merged[trimmed] = merged.get(trimmed, 0.0) + b + n
    ranked = sorted(merged.items(), key=lambda item: (-item[1], item[0]))[:keep]
    return tuple(Found(text, min(1.0, p)) for text, p in ranked)


def _best(ends: dict[str, list[float]], width: int) -> dict[str, tuple[float, float]]:
    if len(ends) > width:
        ranked = sorted(ends.items(), key=lambda item: item[1][0] + item[1][1], reverse=True)[:width]
        floor = (ranked[0][1][0] + ranked[0][1][1]) * 1e-6
        return {s: (v[0], v[1]) for s, v in ranked if v[0] + v[1] > floor}
    return {s: (v[0], v[1]) for s, v in ends.items()}


_WAYS_TO_ONE = 100.0
"""Beginnings are dropped below so many times less than the least string: one string is reached over several of them."""


def search_along(lattice: Lattice, walk: Walk, width: int = 12, keep: int = 5, least: float = 0.0) -> tuple[Found, ...]:
    """The ``keep`` most probable strings of the language of ``walk``, best first; empty when none was reached.

    What has less probability than ``least`` is not looked at, beginnings as little as strings: a string is never likelier than
    the beginnings that it is reached through.

    Every string reported is accepted by the automaton. Three faults of print and spacing are allowed for at a cost: a
    space where the grammar has none; a lost point; a stray dash or point before or behind the string.
    """
    lost = max(1e-290, least / _WAYS_TO_ONE)
    beams: dict[str, tuple[float, float, int]] = {"": (1.0, 0.0, 0)}
    for blank, candidates in lattice.steps:
        if not candidates:
            beams = {s: ((b + n) * blank, 0.0, state) for s, (b, n, state) in beams.items()}
            continue
        ends: dict[str, list[float]] = {}
        states: dict[str, int] = {}
        for text, (b, n, state) in beams.items():
            both = b + n
            entry = ends.get(text)
            if entry is None:
                entry = ends[text] = [0.0, 0.0]
                states[text] = state
            entry[0] += both * blank
            last = folded_last(text)
            row, may_end = walk.ways(state)
            for char, q in candidates:
                if char == last:
                    entry[1] += n * q
                    gain = b * q
                else:
                    gain = both * q
                if gain < lost:
                    continue
                ways = row.get(char)
                if ways is None:
                    if char == " ":
                        entry[0] += gain * 0.5
                    elif char in _STRAYS and (may_end or not text):
                        entry[0] += gain * STRAY
                    continue
                for form, to, cost in ways:
                    longer = text + form
                    other = ends.get(longer)
                    if other is None:
                        ends[longer] = [0.0, gain * cost]
                        states[longer] = to
                    else:
                        other[1] += gain * cost
        alive = [(b + n, s, b, n) for s, (b, n) in ends.items() if b + n >= lost]
        if len(alive) > width:
            alive.sort(reverse=True)
            floor = alive[0][0] * 1e-9
            alive = [a for a in alive[:width] if a[0] > floor]
        beams = {s: (b, n, states[s]) for _, s, b, n in alive}
        if not beams:
            return ()
    accepted = [(s, b + n) for s, (b, n, state) in beams.items() if s and walk.automaton.accepts(state)]
    accepted.sort(key=lambda item: (-item[1], item[0]))
    return tuple(Found(s, min(1.0, p)) for s, p in accepted[:keep] if p > 0.0 and p >= least)


def folded_last(text: str) -> str:
    """The last character of ``text`` as the reader's alphabet has it."""
    last = text[-1:]
    return last if last.isupper() or last in CHARACTERS else folded(last)


def greedy(frames: Frames) -> str:
    """The best path: the most probable output of each frame, repeats and blanks removed."""
    out: list[str] = []
    before = BLANK
    for column in np.argmax(frames, axis=1):
        if column not in (BLANK, before):
            out.append(CHARACTERS[column - 1])
        before = column
    return " ".join("".join(out).split())


def total(frames: Frames, text: str) -> float:
    """The exact probability of ``text``: the CTC sum over all its alignments (forward algorithm)."""
    p = np.exp(frames.astype(np.float64))
    columns = [BLANK]
    for char in text:
        columns.extend((CHARACTERS.index(char) + 1, BLANK))
    size = len(columns)
    skip = np.array([i >= 2 and columns[i] != BLANK and columns[i] != columns[i - 2] for i in range(size)])
    ahead = np.zeros(size)
    ahead[: min(2, size)] = p[0, columns[: min(2, size)]]
    for t in range(1, len(p)):
        moved = ahead.copy()
        moved[1:] += ahead[:-1]
        moved[2:] += np.where(skip[2:], ahead[:-2], 0.0)
        ahead = moved * p[t, columns]
    return float(min(1.0, ahead[-1] + (ahead[-2] if size > 1 else 0.0)))
