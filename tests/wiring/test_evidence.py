from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from digitize.harness.claim import Alternative, Claim
from digitize.wiring.evidence import (
    MOST_SURE,
    Lift,
    Reading,
    agreement,
    assign,
    claim_from,
    confusion,
    marginals,
    pool,
    reading_of,
)


def prior(_: str) -> float:
    return 1e-3


def said(*alternatives: tuple[str, float], belongs: float = 1.0) -> Reading:
    return Reading(tuple(Alternative(t, p) for t, p in alternatives), belongs)


def test_one_reading_keeps_its_probability():
    ranked = pool([said(("S4 16 RED", 0.8), ("S4 16 TAN", 0.1))], prior)
    assert ranked[0].text == "S4 16 RED"
    assert ranked[0].probability == pytest.approx(0.8, abs=0.01)


def test_two_readings_that_agree_lift_each_other_but_never_to_certainty():
    ranked = pool([said(("S4 16 RED", 0.8)), said(("S4 16 RED", 0.7))], prior)
    assert 0.98 < ranked[0].probability <= MOST_SURE


def test_a_weak_reading_is_lifted_by_a_strong_one_elsewhere():
    weak = said(("S1 16 RED", 0.5), ("S4 16 RED", 0.4))
    strong = said(("S4 16 RED", 0.97))
    ranked = pool([weak, strong], prior)
    assert ranked[0].text == "S4 16 RED"
    assert ranked[0].probability > 0.97


def test_two_sure_readings_that_disagree_leave_both_doubtful():
    ranked = pool([said(("S4 16 RED", 0.95), belongs=0.95), said(("H7 10 BLU", 0.95), belongs=0.95)], prior)
    assert ranked[0].probability < 0.6


def test_a_reading_that_is_about_something_else_changes_nothing():
    alone = pool([said(("S4 16 RED", 0.8))], prior)
    both = pool([said(("S4 16 RED", 0.8)), said(("H7 10 BLU", 0.99), belongs=0.0)], prior)
    assert both[0].text == alone[0].text
    assert both[0].probability == pytest.approx(alone[0].probability, abs=1e-3)


def test_look_alike_letters_let_a_reading_speak_for_a_string_it_does_not_list():
    misread = said(("51 16 RED", 0.7))
    assert misread.chance("S1 16 RED") > 5 * misread.chance("K1 16 RED") > 0
    ranked = pool([misread, said(("S1 16 RED", 0.8))], prior)
    assert ranked[0].text == "S1 16 RED"


def test_what_else_is_known_can_bring_in_a_string_that_nobody_read():
    misread = said(("H2O5", 0.6))
    known = Lift(lambda s: 40.0 if s == "H205" else 0.05, 0.05, ("H205",))
    assert pool([misread], prior)[0].text == "H2O5"
    assert pool([misread], prior, known)[0].text == "H205"


def test_a_string_half_way_between_two_sure_readings_does_not_win():
    ranked = pool([said(("FUSIBLE UNK", 0.97), ("FUSIBLE UINK", 0.02)), said(("FUSIBLE LINK", 0.99))], prior)
    assert "FUSIBLE UINK" not in {a.text for a in ranked}
    assert ranked[0].text == "FUSIBLE LINK"


def test_alternatives_never_sum_to_more_than_one():
    claim = Claim("UNK", 0.97, (Alternative("UNK", 0.97), Alternative("UINK", 0.12), Alternative("LNK", 0.03)))
    reading = reading_of(claim)
    assert reading is not None
    assert sum(a.probability for a in reading.alternatives) == pytest.approx(1.0)
    assert reading.alternatives[1].probability == pytest.approx(4 * reading.alternatives[2].probability)


def test_letters_lost_side_by_side_are_lost_together():
    assert confusion("SPEEDOMETER LAMP", "SPEEDOMET LAMP") > 10 * confusion("SPEEDOMETER LAMP", "SPEDOMETE LAMP")


def test_nothing_read_is_unread_and_all_evidence_is_kept():
    assert claim_from([], prior) == Claim(None, 1.0)
    assert reading_of(Claim.unread()) is None
    claim = claim_from([said(("A1", 0.5)), said(("A1", 0.5))], prior)
    assert claim.value == "A1"


def test_agreement_is_above_one_for_the_same_code_and_below_for_another():
    one = said(("S4 16 RED", 0.95), belongs=0.95)
    assert agreement(one, one, prior) > 100
    assert agreement(one, said(("H7 10 BLU", 0.95), belongs=0.95), prior) < 0.2
    assert agreement(one, None, prior) == 1.0


def test_an_assignment_looks_at_the_whole_and_may_leave_rows_alone():
    # Greedy would give row 0 column 0 (5.0) and leave row 1 with -1.
    assert assign(np.array([[5.0, 4.0], [4.5, -1.0]])) == [(0, 1), (1, 0)]
    assert assign(np.array([[-2.0, -3.0]])) == []


@pytest.mark.parametrize(
    "weight", [[[5.0, 4.0], [4.5, -1.0]], [[2.0, 1.0, 0.0], [1.0, 3.0, -2.0]], [[-3.0]], [[6.0, 6.0], [6.0, 6.0]]]
)
def test_chances_of_a_matching_come_near_the_sum_over_all_matchings(weight):
    w = np.array(weight)
    n, m = w.shape
    exact = np.zeros_like(w)
    total = 0.0
    for columns in product([None, *range(m)], repeat=n):
        used = [c for c in columns if c is not None]
        if len(used) == len(set(used)):
            odds = float(np.exp(sum(w[r, c] for r, c in enumerate(columns) if c is not None)))
            total += odds
            for r, c in enumerate(columns):
                if c is not None:
                    exact[r, c] += odds
    assert np.abs(marginals(w) - exact / total).max() < 0.1


readings = st.lists(
    st.tuples(
        st.lists(
            st.tuples(st.sampled_from(["A1", "A7", "AI", "B8", "BB"]), st.floats(0.01, 0.5)), min_size=1, max_size=2
        ),
        st.floats(0.0, 1.0),
    ),
    min_size=1,
    max_size=4,
).map(lambda rs: [said(*dict(a).items(), belongs=b) for a, b in rs])


@given(readings, st.randoms(use_true_random=False))
def test_the_order_of_readings_never_matters_and_chances_stay_chances(made, random):
    ranked = pool(made, prior)
    shuffled = list(made)
    random.shuffle(shuffled)
    assert pool(shuffled, prior) == ranked
    assert all(0.0 <= a.probability <= MOST_SURE for a in ranked)
    assert sum(a.probability for a in ranked) <= 1.0 + 1e-9


@given(st.text("A0O81", max_size=5), st.text("A0O81", max_size=5))
def test_confusion_is_the_same_both_ways_and_one_only_for_equals(a, b):
    assert confusion(a, b) == pytest.approx(confusion(b, a))
    assert (confusion(a, b) == 1.0) == (a == b)
