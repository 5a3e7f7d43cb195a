"""How a manual prints its wire codes, found from the printed strings alone.

Codes repeat and their slots have small alphabets, names do not. Among many ways of writing a code that one is taken with
which all strings of the manual can be told in the fewest bits: a string that fits costs the bits of its slots (circuit,
size and colour from tables that must be told once, number and segment by their letters), any other costs its letters.
This is the principle of minimum description length (J. Rissanen, "Modeling by shortest data description", *Automatica* 14,
1978; from memory). The ways of writing that are tried are those of common practice (no source): an id of letters and
figures, two figures parted by a point, letters or figures and figures parted by a hyphen, or figures alone; a size; a
colour with a tracer, in letters, or in figures where a legend lists them so; in any order, parted by spaces, hyphens, other
signs or nothing.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise, product

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
    "{circuit}-{number}{segment?}": r"(?P<circuit>[A-Z]{1,3}|\d{1,3})-(?P<number>\d{1,4})(?P<segment>[A-Z])?",
    "{circuit}.{number}{segment?}": r"(?P<circuit>\d{1,3})\.(?P<number>\d{1,3})(?P<segment>[A-Z])?",
    "{circuit}/{number}{segment?}": r"(?P<circuit>[A-Z]{1,3}|\d{1,3})/(?P<number>\d{1,4})(?P<segment>[A-Z])?",
    "{number}{segment?}": r"(?P<number>\d{1,4})(?P<segment>[A-Z])?",
}
_SIZE = r"(?P<gauge>\d{1,3}(?:[.,]\d{1,2})?)"
_IN_FULL = "|".join(word for word in COLOUR_WORDS if len(word) > 4)
"""Colours that are printed in full are longer than any abbreviation."""
_ORDERS = ("isc", "ics", "sci", "csi", "sic", "cis", "is", "si", "ic", "ci", "sc", "cs")
_PARTS = (" ", "-", "/", ".", ":")
_TRACERS = ("/", "-", ".", "+", "", " ")
_STUCK = "sc"
"""A colour may stand right behind its size. The other way round every connector's id would be a colour with a size."""
_UNITS = (2, 3, 1)
"""Signs of one colour where a tracer stands right behind it; both then have as many (common practice, no source)."""
LONGEST = 40
"""No code is longer: colours in full with tracer, id and size take some 35 signs (own choice)."""
FEWEST_SIGNS = 3
"""So many strings must show a sign before ways with it are tried; which signs stand at all is soon seen."""


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
    colours = known.get("colour", frozenset())
    # an id and a size have figures; names are many and have none
    figured = {s: n for s, n in counted.items() if len(s) <= LONGEST and any(map(str.isdigit, s))}
    for pattern, compiled, unit in (*_ways(_odd(colours), *_signs(counted)), *_colour_ways(colours)):
        bare = pattern.startswith("{colour}") and "{gauge}" not in pattern and "{number}" not in pattern
        fitting = {}
        for string, n in (counted if bare else figured).items():
            found = compiled.fullmatch(string)
            # a lone colour that stands once is its line in the legend, or a word
            if found is not None and not (bare and found["tracer"] is None and n == 1):
                fields = {k: v for k, v in found.groupdict().items() if v is not None}
                fitting[string] = (n, _parted(fields, unit, colours) if unit else fields)
        if len(fitting) < 3:
            continue
        saved = _saved(fitting, known)
        if saved > 0 and (best is None or saved > best.saved_bits):
            seen = [(s, tuple(fields.items())) for s, (n, fields) in sorted(fitting.items()) for _ in range(n)]
            best = CodeWay(pattern, tuple(seen), saved)
    return best


def _parted(fields: dict[str, str], unit: int, listed: frozenset[str]) -> dict[str, str]:
    """A colour with its tracer right behind it taken apart: as a legend lists them, else two of ``unit`` signs each."""
    both = fields["colour"]
    if both in listed:
        return fields
    cuts = [n for n in range(1, len(both)) if both[:n] in listed and both[n:] in listed]
    cut = cuts[0] if cuts else unit if len(both) == 2 * unit else 0
    return {**fields, "colour": both[:cut], "tracer": both[cut:]} if cut else fields


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


_Way = tuple[str, re.Pattern[str], int]
"""The typed pattern, its expression, and how many signs a colour has where the tracer stands right behind it (else 0)."""


def _colour_ways(colours: frozenset[str]) -> tuple[_Way, ...]:
    """Codes that are a colour and perhaps a tracer alone: only where a legend lists the colours, else any word is one."""
    colours = frozenset(c for c in colours if not c.isdigit())
    if len(colours) < COLOURS_LISTED:
        return ()
    one = "|".join(re.escape(c) for c in sorted(colours, key=lambda c: (-len(c), c)))
    return tuple(
        ("{colour}{" + sign + "tracer?}", re.compile(rf"(?P<colour>{one})(?:{re.escape(sign)}(?P<tracer>{one}))?"), 0)
        for sign in _TRACERS
    )


def _odd(colours: frozenset[str]) -> tuple[str, ...]:
    """Colours that a legend lists in figures, longest first; none where it lists them in letters."""
    listed = sorted((c for c in colours if c.isdigit()), key=lambda c: (-len(c), c))
    return tuple(listed) if len(listed) >= COLOURS_LISTED else ()


def _signs(strings: Iterable[str]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """(signs that may part the slots of a code, signs that may stand before a tracer) among those that are tried."""
    parts: Counter[str] = Counter()
    tracers: Counter[str] = Counter()
    for string in strings:
        found = {(string[i - 1], string[i], string[i + 1]) for i in range(1, len(string) - 1)}
        found = {(a, b, c) for a, b, c in found if a.isalnum() and c.isalnum()}
        # a point between figures is a decimal point, or stands inside an id
        parts.update({b for a, b, c in found if b != "." or not (a.isdigit() and c.isdigit())})
        tracers.update({b for _, b, _ in found})
    return (
        tuple(p for p in _PARTS if parts[p] >= FEWEST_SIGNS),
        # the first is what is proposed where no tracer stands anywhere
        tuple(t for t in _TRACERS if t in {"", "/"} or tracers[t] >= FEWEST_SIGNS),
    )


@lru_cache(maxsize=4)
def _ways(figures: tuple[str, ...], parts: tuple[str, ...], tracers: tuple[str, ...]) -> tuple[_Way, ...]:
    """Every way of writing that is tried: the typed pattern and its expression. ``figures``: colours listed in figures."""
    out: dict[tuple[str, int], re.Pattern[str]] = {}
    for order in _ORDERS:
        for glues in product(*(_between(a + b, parts, figures) for a, b in pairwise(order))):
            for tracer in tracers if "c" in order else ("/",):
                for typed_id, id_shape in _IDS.items() if "i" in order else (("", ""),):
                    if "-" in typed_id and "-" in glues:
                        continue
                    typed, shape = _way(order, glues, tracer, typed_id, id_shape, figures)
                    for unit in _UNITS if "c" in order and not tracer else (0,):
                        out.setdefault((typed, unit), re.compile(shape))
    for typed_id, id_shape in list(_IDS.items())[:1]:
        typed = typed_id.replace("?", "") + "{gauge}{phase:N|A|B|C|V?}"
        shape = id_shape.removesuffix("?") + r"(?P<gauge>\d{1,2})(?P<phase>[NABCV])?"
        out.setdefault((typed, 0), re.compile(shape))
    return tuple((typed, compiled, unit) for (typed, unit), compiled in out.items())


def _between(pair: str, parts: tuple[str, ...], figures: tuple[str, ...]) -> tuple[str, ...]:
    """What may stand between two slots of a code: a sign, or nothing where letters and figures meet."""
    return (*parts, "") if pair == _STUCK and not figures else parts


def _way(
    order: str, glues: tuple[str, ...], tracer: str, typed_id: str, id_shape: str, figures: tuple[str, ...]
) -> tuple[str, str]:
    # between parts a tracer is told from a size or an id by its letters, even where the same sign parts them all
    one = "(?:" + "|".join(figures) + ")" if figures else rf"(?:[A-Z]{{1,4}}|{_IN_FULL})"
    colour = rf"(?P<colour>{one})(?:{re.escape(tracer)}(?P<tracer>{one}))?"
    if not tracer:
        colour = rf"(?P<colour>{one}{{1,2}})" if figures else "(?P<colour>[A-Z]{1,6})"
    typed = {
        "i": typed_id,
        "s": "{gauge}",
        "c": "{colour}{" + tracer + "tracer?}",
    }
    shapes = {
        "i": id_shape,
        "s": _SIZE,
        "c": colour,
    }
    typed_parts, shape_parts = [typed[order[0]]], [shapes[order[0]]]
    for glue, kind in zip(glues, order[1:], strict=True):
        typed_parts += [glue, typed[kind]]
        shape_parts += [re.escape(glue), shapes[kind]]
    return "".join(typed_parts), "".join(shape_parts)
