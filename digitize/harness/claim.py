"""A claim: a value with its ranked alternatives, its evidence and the probability that it is right."""

from __future__ import annotations

from dataclasses import dataclass

from digitize.harness.place import Place


@dataclass(frozen=True, slots=True)
class Alternative:
    """One possible reading. ``text`` is verbatim; ``probability`` in 0..1."""

    text: str
    probability: float


@dataclass(frozen=True, slots=True)
class Evidence:
    """One reason to believe (or doubt) a claim.

    Attributes:
        kind: ``read`` (a reader read it here), ``edge`` (the partner at a page edge), ``chart`` (a connector chart
            row), ``index`` (an index entry), ``repeat`` (the same code printed elsewhere on the run), ``drawn`` (the
            geometry says so), ``key`` (a table says what the short key on the wire means),
            ``order`` (it stands between others that are named in order) or ``person`` (somebody said so at the review desk).
        says: what it says, verbatim.
        probability: how sure that one source is by itself, 0..1.
        by: stage and version that brought it, e.g. ``reading 0.1.0 lettering-1``.
        place: where it was seen; None for a person's word.
    """

    kind: str
    says: str
    probability: float
    by: str
    place: Place | None = None


@dataclass(frozen=True, slots=True)
class Claim:
    """What we believe a printed string says, or None for "nothing is printed or it cannot be read".

    Attributes:
        value: the string kept verbatim, None when unread.
        probability: calibrated chance that ``value`` is right, 0..1.
        alternatives: ranked, most probable first; holds ``value`` too when it was read.
        evidence: everything that speaks for or against, never overwritten.
    """

    value: str | None
    probability: float
    alternatives: tuple[Alternative, ...] = ()
    evidence: tuple[Evidence, ...] = ()

    @staticmethod
    def unread(probability: float = 1.0) -> Claim:
        """A claim that nothing could be read; ``probability`` is the chance that nothing is printed."""
        return Claim(None, probability)
