"""How a manual prints its wire codes, found from the printed strings alone.

Codes repeat and their slots have small alphabets, names do not. Among many ways of writing a code that one is taken with
which all strings of the manual can be told in the fewest bits: a string that fits costs the bits of its slots (circuit,
size and colour from tables that must be told once, number and segment by their letters), any other costs its letters.
This is the principle of minimum description length (J. Rissanen, "Modeling by shortest data description", *Automatica* 14,
1978; from memory). The ways of writing that are tried are those of common practice (no source): an id of letters and
figures, two figures parted by a point, or figures alone; a size; a colour with a tracer; in any order, parted by spaces,
hyphens or nothing.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from digitize.legend.colour_words import COLOUR_WORDS

LETTER_BITS = math.log2(37)
"""Bits of a letter, figure or sign of a string that fits nothing."""
FIGURE_BITS = math.log2(10)
SEGMENT_BITS = math.log2(26)
WAY_BITS = 40.0
"""What it costs to say the way of writing; it keeps two or three like strings from making one."""
COLOURS_LISTED = 3
"""Codes of colours alone are looked for when a legend lists at least so many."""
SELDOM = 0.01
"""A length of a number that stands less often is taken for a misreading (own choice)."""
LEAST_GAIN = 0.25
"""A second way of writing must save so much of what the first saved (own choice)."""

_TABLED = ("circuit", "gauge", "colour", "tracer")

_IDS = {
    "{circuit}{number}{segment?}": r"(?P<circuit>[A-Z]{1,3})(?P<number>\d{1,4})(?P<segment>[A-Z])?",
    "{circuit}-{number}{segment?}": r"(?P<circuit>[A-Z]{1,3})-(?P<number>\d{1,4})(?P<segment>[A-Z])?",
    "{circuit}.{number}{segment?}": r"(?P<circuit>\d{1,3})\.(?P<number>\d{1,3})(?P<segment>[A-Z])?",
    "{number}{segment?}": r"(?P<number>\d{1,4})(?P<segment>[A-Z])?",
}
_SIZE = r"(?P<gauge>\d{1,3}(?:[.,]\d{1,2})?)"
_IN_FULL = "|".join(word for word in COLOUR_WORDS if len(word) > 4)
"""Colours that are printed in full are longer than any abbreviation."""
_ORDERS = ("isc", "ics", "sci", "csi", "is", "ic", "sc", "cs", "ci")
_PARTS = (" ", "-", "/", ".")
_TRACERS = ("/", "-", ".", "", " ")


@dataclass(frozen=True, slots=True)
class CodeWay:
    """One way of writing: ``pattern`` in the pattern language of the conventions, ``seen`` all strings that fit, each as
    often as it stands and with its fields.
    """

    pattern: str
    seen: tuple[tuple[str, tuple[tuple[str, str], ...]], ...]
    saved_bits: float

    def values(self, field: str) -> Counter[str]:
        """How often each value stands in a field; tracers are counted among the colours."""
        names = ("colour", "tracer") if field == "colour" else (field,)
        return Counter(v for _, fields in self.seen for name, v in fields if name in names)

    def lengths(self, field: str) -> tuple[int, int]:
        """Fewest and most letters of a field; (0, 0) when it never stands.

        A length that stands once, or in one of a hundred, is a misreading.
        """
        found = Counter(len(v) for _, fields in self.seen for name, v in fields if name == field)
        usual = [n for n, times in found.items() if times >= max(2, SELDOM * found.total())] or list(found)
        return (min(usual), max(usual)) if usual else (0, 0)


def code_ways(strings: Iterable[str], colours: Iterable[str] = (), circuits: Iterable[str] = ()) -> tuple[CodeWay, ...]:
    """The ways in which codes are written among ``strings`` (all print of a manual, repeats too); () when none shows.

    ``colours``, ``circuits``: what a legend lists; told already, so they cost nothing.
    """
    counted = Counter(s.strip() for s in strings if s.strip())
    known = {"colour": frozenset(colours), "circuit": frozenset(circuits)}
    first = _best(counted, known)
    if first is None:
        return ()
    fits = {s for s, _ in first.seen}
    rest = Counter({s: n for s, n in counted.items() if s not in fits})
    known = {
        "colour": known["colour"] | first.values("colour").keys(),
        "circuit": known["circuit"] | first.values("circuit").keys(),
        "gauge": frozenset(first.values("gauge")),
    }
    second = _best(rest, known)
    if second is None or second.saved_bits < LEAST_GAIN * first.saved_bits:
        return (first,)
    return first, second


def _best(counted: Mapping[str, int], known: Mapping[str, frozenset[str]]) -> CodeWay | None:
    best: CodeWay | None = None
    for pattern, compiled in (*_ways(), *_colour_ways(known.get("colour", frozenset()))):
        bare = pattern.startswith("{colour}") and "{gauge}" not in pattern and "{number}" not in pattern
        fitting = {}
        for string, n in counted.items():
            found = compiled.fullmatch(string)
            # a lone colour that stands once is its line in the legend, or a word
            if found is not None and not (bare and found["tracer"] is None and n == 1):
                fitting[string] = (n, {k: v for k, v in found.groupdict().items() if v is not None})
        if len(fitting) < 3:
            continue
        saved = _saved(fitting, known)
        if saved > 0 and (best is None or saved > best.saved_bits):
            seen = [(s, tuple(fields.items())) for s, (n, fields) in sorted(fitting.items()) for _ in range(n)]
            best = CodeWay(pattern, tuple(seen), saved)
    return best


def _saved(fitting: Mapping[str, tuple[int, dict[str, str]]], known: Mapping[str, frozenset[str]]) -> float:
    """Bits saved by telling these strings by their slots, less what the tables cost."""
    tables: dict[str, Counter[str]] = {"circuit": Counter(), "gauge": Counter(), "colour": Counter()}
    present = dict.fromkeys(("segment", "tracer"), 0)
    total = 0
    for n, fields in fitting.values():
        total += n
        for name, value in fields.items():
            if name in _TABLED:
                tables["colour" if name == "tracer" else name][value] += n
            if name in present:
                present[name] += n
    bits = WAY_BITS
    for name, table in tables.items():
        whole = sum(table.values())
        for value, n in table.items():
            bits += n * math.log2(whole / n)
            if value not in known.get(name, frozenset()):
                bits += (len(value) + 1) * LETTER_BITS
    for n in present.values():
        bits += _choice_bits(n, total)
    plain = 0.0
    for string, (n, fields) in fitting.items():
        plain += n * (len(string) + 1) * LETTER_BITS
        bits += n * len(fields.get("number", "")) * (FIGURE_BITS + 1.0)
        bits += n * SEGMENT_BITS if "segment" in fields else 0.0
    return plain - bits


def _choice_bits(n: int, of: int) -> float:
    if n in {0, of}:
        return 0.0
    p = n / of
    return -of * (p * math.log2(p) + (1 - p) * math.log2(1 - p))


def _colour_ways(colours: frozenset[str]) -> tuple[tuple[str, re.Pattern[str]], ...]:
    """Codes that are a colour and perhaps a tracer alone: only where a legend lists the colours, else any word is one."""
    if len(colours) < COLOURS_LISTED:
        return ()
    one = "|".join(re.escape(c) for c in sorted(colours, key=lambda c: (-len(c), c)))
    return tuple(
        ("{colour}{" + sign + "tracer?}", re.compile(rf"(?P<colour>{one})(?:{re.escape(sign)}(?P<tracer>{one}))?"))
        for sign in _TRACERS
    )


@lru_cache(maxsize=1)
def _ways() -> tuple[tuple[str, re.Pattern[str]], ...]:
    """Every way of writing that is tried: the typed pattern and its expression."""
    out: dict[str, re.Pattern[str]] = {}
    for order in _ORDERS:
        for part in _PARTS:
            for tracer in _TRACERS if "c" in order else ("/",):
                for typed_id, id_shape in _IDS.items() if "i" in order else (("", ""),):
                    if "-" in typed_id and part == "-":
                        continue
                    size_and_colour = order in {"sc", "isc", "sci"}
                    for stuck in (False, True) if size_and_colour else (False,):
                        typed, shape = _way(order, part, tracer, typed_id, id_shape, stuck=stuck)
                        out.setdefault(typed, re.compile(shape))
    for typed_id, id_shape in list(_IDS.items())[:1]:
        typed = typed_id.replace("?", "") + "{gauge}{phase:N|A|B|C|V?}"
        shape = id_shape.removesuffix("?") + r"(?P<gauge>\d{1,2})(?P<phase>[NABCV])?"
        out.setdefault(typed, re.compile(shape))
    return tuple(out.items())


def _way(order: str, part: str, tracer: str, typed_id: str, id_shape: str, *, stuck: bool) -> tuple[str, str]:
    # between parts a tracer is told from a size or an id by its letters, even where the same sign parts them all
    letters = rf"(?:[A-Z]{{1,4}}|{_IN_FULL})" if tracer else r"[A-Z]{1,3}?"
    typed = {
        "i": typed_id,
        "s": "{gauge}",
        "c": "{colour}{" + tracer + "tracer?}",
    }
    shapes = {
        "i": id_shape,
        "s": _SIZE,
        "c": rf"(?P<colour>{letters})(?:{re.escape(tracer)}(?P<tracer>{letters}))?",
    }
    typed_parts, shape_parts = [typed[order[0]]], [shapes[order[0]]]
    for before, kind in pairwise(order):
        glue = "" if stuck and before + kind == "sc" else part
        typed_parts += [glue, typed[kind]]
        shape_parts += [re.escape(glue), shapes[kind]]
    return "".join(typed_parts), "".join(shape_parts)
