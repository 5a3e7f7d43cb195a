"""Which reading of a crop to believe, over all kinds of string."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from digitize.reading.alphabet import folded
from digitize.reading.decode import Found
from digitize.reading.lexicon import habit, with_letters, with_noughts, with_spaces

LIFTS: Mapping[str, float] = {"connector": 6.0, "zone": 5.0, "number": 5.0, "word": 12.0}
"""How many times likelier a string that obeys a kind's grammar is than one of the same look that obeys none.

A reader's probabilities know nothing of the manual: to it ``A1`` and ``AI`` are equal. Long grammars say more than
short ones. Set on generated strings (scripts/train_reader reports what it costs and gains); a rule of proportion only,
the calibration after it makes the numbers honest.
"""

_OTHER_LIFT = 4.0
_CODE_GROWTH, _CODE_MOST = 3.0, 10000.0
_LOOSE_MOST = 30.0
"""Where no manual says how its codes are made, any few letters may be a colour: many a name is a code but for a letter or two
taken for figures and points."""


def lift_of(kind: str, text: str, *, loose: bool = False) -> float:
    """The lift of ``text`` by the grammar of ``kind``. That of a code grows with its length: few strings are codes by chance.

    ``loose``: how the manual's codes are made is not known.
    """
    if kind == "code" and loose:
        return min(_LOOSE_MOST, lift_of(kind, text))
    if kind == "code":
        return min(_CODE_MOST, float(_CODE_GROWTH ** len(text.replace(" ", ""))))
    return LIFTS.get(kind, _OTHER_LIFT)


ORDER = ("code", "connector", "zone", "number", "word")
"""Among kinds that allow the same string, the most telling grammar first."""


@dataclass(frozen=True, slots=True)
class Verdict:
    """The reading believed, the kind it fits and its share of all belief, 0..1 and not yet calibrated."""

    text: str
    kind: str
    share: float
    fits: bool


def weighed(
    free: Sequence[Found], by_kind: Mapping[str, Sequence[Found]], agree: Sequence[str] = (), *, loose: bool = False
) -> Verdict:
    """Choose over ``free`` readings and those that obey a grammar.

    Each string weighs its probability times the lift of the best grammar it obeys (one that obeys none: times its
    habit, ``lexicon.habit``); ``agree`` is what other, different readers saw, each of which weighs ``agreement_of`` it
    times more. Mass that no candidate holds counts against all. ``loose``: see ``lift_of``.
    """
    mass: dict[str, float] = {}
    lawful = {found.text for some in by_kind.values() for found in some}
    for found in free:
        text = found.text if found.text in lawful else with_spaces(with_letters(with_noughts(found.text)))
        mass[text] = mass.get(text, 0.0) + found.probability
    lifted: dict[str, tuple[float, str]] = {}
    for kind in sorted(by_kind, key=_rank):
        for found in by_kind[kind]:
            lift = lift_of(kind, found.text, loose=loose)
            mass[found.text] = max(mass.get(found.text, 0.0), found.probability)
            if found.text not in lifted or lifted[found.text][0] < lift:
                lifted[found.text] = (lift, kind)
    if not mass:
        return Verdict("", "word", 0.0, fits=False)
    weight = {
        text: p
        * (lifted[text][0] if text in lifted else habit(text))
        * agreement_of(text) ** sum(_bare(said) == _bare(text) for said in agree)
        for text, p in mass.items()
    }
    unseen = max(0.0, 1 - sum(mass.values()))
    text = max(weight, key=lambda t: (weight[t], t))
    share = weight[text] / (sum(weight.values()) + unseen)
    kind = lifted[text][1] if text in lifted else kind_by_look(text)
    return Verdict(text, kind, share, fits=text in lifted)


def same(one: str, other: str) -> bool:
    """True for strings that differ in case and spaces only."""
    return _bare(one) == _bare(other)


def _bare(text: str) -> str:
    return folded(text).replace(" ", "")


def agreement_of(text: str) -> float:
    """How much the word of a second reader weighs.

    Two different readers seldom make the same mistake in a word (a case study in facts 2.3; none of 600 codes in our own
    study), but `8` for `B` or `1` for `I` alone they do: the shapes are the same to both.
    """
    return 12.0 if len(text.replace(" ", "")) >= 3 else 2.0


def kind_by_look(text: str) -> str:
    """``number`` for digits with at most one letter or unit behind, else ``word``: for strings that fit no grammar."""
    solid = text.replace(" ", "").replace(".", "")
    head = solid.rstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ")
    return "number" if head.isdigit() and len(solid) - len(head) <= 1 else "word"


def _rank(kind: str) -> int:
    return ORDER.index(kind) if kind in ORDER else len(ORDER)
