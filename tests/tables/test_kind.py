"""The kind of a page, told by what is printed on it."""

import pytest

from digitize.sheet.state import SheetHints
from digitize.tables.kind import kind_and_probability, kind_of
from fixtures.read_pages import NAMES, column, legend, read, small_table


def index_texts():
    return column(20, [(0, n, f"A{k + 1}") for k, n in enumerate(NAMES)])


@pytest.mark.parametrize("first", ["other", "diagram", "index"])
def test_a_chart_is_known_whatever_the_first_guess(first):
    texts, rules = small_table(20, 30)
    more, rest = small_table(200, 30, "C102")
    title = ("VAN - CONNECTOR CHART", 150, 8, 4.5)
    kind, probability = kind_and_probability(read([title, *texts, *more], first, [*rules, *rest]))
    assert kind == "chart"
    assert probability > 0.9


def test_an_index_is_known_by_its_zones_even_without_a_title():
    assert kind_and_probability(read(index_texts(), "other"))[0] == "index"


def test_a_legend_is_known_by_its_headings():
    texts, rules = legend()
    assert kind_and_probability(read(texts, "index", rules))[0] == "legend"


def test_what_the_conventions_state_wins():
    assert kind_and_probability(read(index_texts(), "other"), SheetHints(kind="chart"))[0] == "chart"


def test_title_and_label_are_read():
    texts = [*index_texts(), ("TARN 900 - COMPONENT INDEX", 130, 8, 4.5), ("TV-5", 205, 290)]
    facts = kind_of(read(texts, "other")).marks.sheet.facts
    assert facts.title == "TARN 900 - COMPONENT INDEX"
    assert facts.label == "TV-5"
