"""From a shape to a small deterministic automaton with tabulated steps.

Thompson's construction, the subset construction, then Moore's partition refinement: textbook methods (Hopcroft,
Motwani, Ullman, *Introduction to Automata Theory, Languages, and Computation*, chapters 2-4; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from digitize.legend.shapes import Either, Sequence, Shape, Stretch, Words


@dataclass(frozen=True, slots=True)
class TabledAutomaton:
    """An ``Automaton`` with all its steps in dicts, one a state; state 0 is the start; as few states as can be."""

    steps: tuple[dict[str, int], ...]
    accepting: frozenset[int]
    alphabet: tuple[str, ...]

    def step(self, state: int, char: str) -> int | None:
        """The next state after ``char``, or None when no string of the language goes on so."""
        return self.steps[state].get(char)

    def accepts(self, state: int) -> bool:
        """True when a string that ends in ``state`` belongs to the language."""
        return state in self.accepting

    def letters(self, state: int) -> str:
        """All characters that ``step`` takes in ``state``, sorted."""
        return self.alphabet[state]

    def takes(self, text: str) -> bool:
        """True when ``text`` as a whole belongs to the language."""
        state: int | None = 0
        for char in text:
            state = self.steps[state].get(char) if state is not None else None
            if state is None:
                return False
        return state in self.accepting


class _Net:
    """A non-deterministic automaton that grows; every state has steps by character and free steps."""

    def __init__(self) -> None:
        self.steps: list[dict[str, list[int]]] = []
        self.free: list[list[int]] = []
        self._alone: dict[int, frozenset[int]] = {}

    def state(self) -> int:
        self.steps.append({})
        self.free.append([])
        return len(self.steps) - 1

    def add(self, shape: Shape, start: int) -> int:
        """Lay ``shape`` from ``start`` on; gives the state where it ends."""
        match shape:
            case Words(words):
                end = self.state()
                for word in words:
                    at = start
                    for char in word:
                        following = self.state()
                        self.steps[at].setdefault(char, []).append(following)
                        at = following
                    self.free[at].append(end)
                return end
            case Stretch(chars, least, most):
                end = self.state()
                at = start
                for i in range(most):
                    if i >= least:
                        self.free[at].append(end)
                    following = self.state()
                    for char in chars:
                        self.steps[at].setdefault(char, []).append(following)
                    at = following
                self.free[at].append(end)
                return end
            case Either(shapes):
                end = self.state()
                for part in shapes:
                    begin = self.state()
                    self.free[start].append(begin)
                    self.free[self.add(part, begin)].append(end)
                return end
            case Sequence(parts, is_optional, _):
                begin = self.state()
                self.free[start].append(begin)
                at = begin
                for part in parts:
                    at = self.add(part, at)
                end = self.state()
                self.free[at].append(end)
                if is_optional:
                    self.free[begin].append(end)
                return end

    def closed(self, states: frozenset[int]) -> frozenset[int]:
        """``states`` with all that free steps reach; asked only when the net is whole."""
        if len(states) == 1:
            (state,) = states
            return self._reached(state)
        return frozenset().union(*(self._reached(state) for state in states))

    def _reached(self, state: int) -> frozenset[int]:
        known = self._alone.get(state)
        if known is None:
            reached, todo = {state}, [state]
            while todo:
                for other in self.free[todo.pop()]:
                    if other not in reached:
                        reached.add(other)
                        todo.append(other)
            known = self._alone[state] = frozenset(reached)
        return known


@lru_cache(maxsize=64)
def automaton(shape: Shape) -> TabledAutomaton:
    """The smallest deterministic automaton for ``shape``; the same shape always gives the same numbering.

    Kept for the shapes asked for last: all pages of a manual are read along the same few.
    """
    net = _Net()
    start = net.state()
    end = net.add(shape, start)
    first = net.closed(frozenset({start}))
    order: dict[frozenset[int], int] = {first: 0}
    table: list[dict[str, int]] = []
    todo = [first]
    while todo:
        here = todo.pop(0)
        reach: dict[str, set[int]] = {}
        for state in here:
            for char, following in net.steps[state].items():
                reach.setdefault(char, set()).update(following)
        row: dict[str, int] = {}
        for char in sorted(reach):
            there = net.closed(frozenset(reach[char]))
            if there not in order:
                order[there] = len(order)
                todo.append(there)
            row[char] = order[there]
        table.append(row)
    return _smallest(table, frozenset(i for states, i in order.items() if end in states))


def _smallest(table: list[dict[str, int]], accepting: frozenset[int]) -> TabledAutomaton:
    """Merge states that no string tells apart, and number them in the order they are reached from the start."""
    group = [int(i in accepting) for i in range(len(table))]
    while True:
        names: dict[tuple[int, tuple[tuple[str, int], ...]], int] = {}
        finer = [
            names.setdefault((group[i], tuple((c, group[j]) for c, j in row.items())), len(names))
            for i, row in enumerate(table)
        ]
        if len(set(finer)) == len(set(group)):
            break
        group = finer
    member: dict[int, int] = {}
    for i, g in enumerate(group):
        member.setdefault(g, i)
    number: dict[int, int] = {group[0]: 0}
    rows: list[dict[str, int]] = []
    todo = [group[0]]
    while todo:
        row = {}
        for char, j in table[member[todo.pop(0)]].items():
            if group[j] not in number:
                number[group[j]] = len(number)
                todo.append(group[j])
            row[char] = number[group[j]]
        rows.append(row)
    return TabledAutomaton(
        tuple(rows),
        frozenset(n for g, n in number.items() if member[g] in accepting),
        tuple("".join(sorted(row)) for row in rows),
    )
