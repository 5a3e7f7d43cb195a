"""The bits of a fold are no dashes; the dashes of a table are."""

from hypothesis import given
from hypothesis import strategies as st

from digitize.ink.lettering_rows import LEAST, strewn


def dash(x, y):
    return (x, y, x + 14.0, y + 5.0)


def word(x, y):
    return (x, y, x + 90.0, y + 26.0)


FOLD = [dash(60 * k, 1400 + k % 3) for k in range(12)]


def test_bits_of_a_fold_are_known_by_their_line():
    assert strewn(FOLD, [word(100, 300), word(500, 1390)]).all()


def test_the_dashes_of_a_table_stand_beside_its_other_cells():
    cells = [word(60 * k, 1390) for k in range(6)]
    assert not strewn(FOLD, cells).any()


def test_few_dashes_on_a_line_and_dashes_all_over_the_page_stay():
    assert not strewn(FOLD[: LEAST - 1], []).any()
    assert not strewn([dash(60 * k, 100 * k) for k in range(20)], []).any()
    assert strewn([], []).shape == (0,)


@given(st.lists(st.tuples(st.floats(0, 4000), st.floats(0, 3000)), max_size=25))
def test_more_lettering_never_makes_a_fold(places):
    dashes = [dash(x, y) for x, y in places]
    strings = [word(50 * k, 290 * k) for k in range(10)]
    assert not (strewn(dashes, strings) & ~strewn(dashes, [])).any()
