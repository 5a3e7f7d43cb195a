"""Short ways of naming wires that nobody stated: a key that a table explains, or the colours in words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from statistics import median

from digitize.legend.colour_words import named_colours
from digitize.wiring.proposed_work import Work
from digitize.wiring.short_keys import ShortKeys
from digitize.wiring.state import SheetText, SheetWiring

READ_WELL = 0.5
"""Print read less surely is left out of the statistics."""
FEWEST = 6
"""So many wires at least must be named so (own choice)."""
SMALL = 0.86
"""Small letters reach this much of a capital's height at most, ascenders left out (common practice, no source)."""


def propose_short_codes(work: Work, sheets: Sequence[SheetWiring], keys: ShortKeys, longer: int) -> bool:
    """Propose keys, or colours in words, when more wires are named so than by the ``longer`` codes that were found.

    False when there is no such habit; then nothing is proposed.
    """
    if work.stated.code.pattern:
        return False
    texts = [t for s in sheets for t in s.texts if t.probability >= READ_WELL and t.role != "key"]
    known = set(keys.agreed) | {key for table in keys.by_sheet.values() for key in table}
    keyed = sum(t.text in known for t in texts)
    named = [t for t in texts if named_colours(t.text) is not None]
    # keys stand in a table that explains them: that speaks for itself
    if known and keyed >= FEWEST and keyed >= 0.5 * max(longer, len(named)):
        _keys(work, keys, keyed)
        return True
    if len(named) >= FEWEST and len(named) > longer:
        _words(work, named)
        return True
    return False


def _keys(work: Work, keys: ShortKeys, keyed: int) -> None:
    work.put("code.pattern", ("{key}",), f"{keyed} wires carry a key that a table explains", 1 - 1 / (keyed + 1))
    colours: Counter[str] = Counter()
    for key, said in sorted(keys.agreed.items(), key=lambda k: (len(k[0]), k[0])):
        meaning = said.meaning.model_dump(exclude_none=True)
        work.put(f"keys / {key}", meaning, "the table on the sheet", said.probability, said.evidence())
        colours.update(c for c in (said.meaning.colour, said.meaning.tracer) if c)
    # where the tables disagree, each speaks for its own sheet; the keys as such are known all the same
    for key in sorted({k for t in keys.by_sheet.values() for k in t} - set(keys.agreed)):
        work.put(f"keys / {key}", {}, "the tables on the sheets differ", 0.9)
    for colour in sorted(colours):
        if named_colours(colour) is not None:
            work.put(
                f"colours / {colour}", colour.lower(), f"stands in {colours[colour]} lines of the table of keys", 0.95
            )


def _words(work: Work, named: Sequence[SheetText]) -> None:
    pairs = [(t, pair) for t in named if (pair := named_colours(t.text)) is not None]
    work.put("code.pattern", ("{colour}{ tracer?}",), f"{len(pairs)} wires are named so", 1 - 1 / (len(pairs) + 1))
    tails = [t.tail for t, (_, tracer) in pairs if tracer is not None and t.tail is not None]
    if len(tails) >= 3 and median(tails) < SMALL:
        work.put("code.tracer_small", True, f"the second of {len(tails)} is lower than the first", 0.9)
    colours = Counter(c for _, pair in pairs for c in pair if c is not None)
    for colour, n in sorted(colours.items()):
        work.put(f"colours / {colour}", colour.lower(), f"stands {n} times", 1 - 1 / (n + 1))
