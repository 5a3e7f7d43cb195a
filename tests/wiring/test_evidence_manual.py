from __future__ import annotations

import pytest

from digitize.harness.claim import Claim
from digitize.harness.model import WireEnd
from digitize.legend.conventions import Conventions, conventions_from
from digitize.wiring.binding_wires import Strand
from digitize.wiring.evidence import claim_from, reading_of
from digitize.wiring.evidence_codes import CodeSense
from digitize.wiring.evidence_manual import habit_lifts
from fixtures.typed_sheets import read

CODES = CodeSense(
    conventions_from("""
[code]
pattern = "{circuit}{number}{segment?} {gauge} {colour}{/tracer?}"
""")
)


def strand(id_: str, *splices: str) -> Strand:
    ends = [WireEnd(s, "*", "page_1", (0, 0)) for s in splices] + [WireEnd("x", "1", "page_1", (0, 0))] * 2
    return Strand(id_, (ends[0], ends[1]), (), (), (), (), 0.97)


def manual(doubtful: Claim, splice: str | None = None) -> tuple[list[Strand], dict[str, Claim]]:
    """Eight circuits of four wires, each circuit with one splice and one look, and one doubtful wire."""
    looks = ["14 RED", "16 BLU", "18 TAN", "14 BLK"]
    strands, claims = [], {}
    for n in range(8):
        for segment in "ABCD":
            id_ = f"w{n}{segment}"
            strands.append(strand(id_, f"s{n}"))
            claims[id_] = read(f"S{n + 1}{segment} {looks[n % 4]}", 0.99)
    strands.append(strand("doubt", *([splice] if splice else [])))
    claims["doubt"] = doubtful
    return strands, claims


def settled(doubtful: Claim, splice: str | None = None) -> Claim:
    strands, claims = manual(doubtful, splice)
    lift = habit_lifts(strands, claims, CODES)["doubt"]
    reading = reading_of(doubtful)
    assert reading is not None
    return claim_from([reading], CODES.prior, lift)


def test_a_segment_letter_that_the_manual_never_uses_gives_way():
    # O and D look alike; the manual has A to D.
    assert settled(read("S3O 18 TAN", 0.6, ("S3D 18 TAN", 0.3))).value == "S3D 18 TAN"


def test_a_circuit_that_the_manual_has_with_this_look_is_likelier():
    assert settled(read("S9B 16 BLU", 0.5, ("S2B 16 BLU", 0.4))).value == "S2B 16 BLU"
    assert settled(read("S2B 14 BLU", 0.5, ("S2B 16 BLU", 0.4))).value == "S2B 16 BLU"


def test_neighbours_at_a_splice_speak_for_their_own_circuit():
    doubtful = read("S1E 14 RED", 0.45, ("S5E 14 RED", 0.4))
    assert settled(doubtful).value == "S1E 14 RED"
    assert settled(doubtful, "s4").value == "S5E 14 RED"


def test_a_sure_reading_is_not_talked_over():
    assert settled(read("S9Z 18 PNK", 0.94), "s4").value == "S9Z 18 PNK"


def test_a_field_is_mended_only_where_look_alike_letters_allow_it():
    assert settled(read("S5E 14 REO", 0.5), "s4").value == "S5E 14 RED"


def test_too_few_codes_are_no_habit():
    strands, claims = manual(read("S3O 18 TAN", 0.6, ("S3D 18 TAN", 0.3)))
    few = {i: c for i, c in claims.items() if i in {"w0A", "w1A", "doubt"}}
    assert habit_lifts([s for s in strands if s.id in few], few, CODES) == {}


@pytest.mark.parametrize(("text", "factor"), [("S4 16 RED", 1.0), ("S4 16 PNK", 0.1), ("SIDE LAMP", 0.02)])
def test_what_fits_the_legend_is_likelier(text, factor):
    codes = CodeSense(
        conventions_from(
            '[code]\npattern = "{circuit}{number} {gauge} {colour}"\n[colours]\nRED = "red"\n',
        ),
    )
    assert codes.fits(text) == factor
    assert CodeSense(Conventions()).fits(text) == 1.0


def test_one_id_with_another_look_is_the_same_wire_and_another_id_is_not():
    assert CODES.same_id("S4A 16 RED", "S4A 16 BLU")
    assert not CODES.same_id("S4A 16 RED", "S4A 16 RED")
    assert not CODES.same_id("S4A 16 RED", "S4B 16 RED")
    assert not CODES.same_id("S4A 16 RED", "LAMP")
