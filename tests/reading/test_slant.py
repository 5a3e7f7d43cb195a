"""Leaning letters are stood up before they are read; upright ones are left alone."""

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import pytest

from digitize.reading.engines import Grey, Sighting
from digitize.reading.read import read_crops
from digitize.reading.readers import Readers, probe_readers
from digitize.reading.slant import lean_of_sheet, lean_to_read, sheared, stood_up
from fixtures.lettering_training.plain_words import set_in_pillow

NAMES = ("LINE LAMP", "NIGHT ALARM", "MAIN SWITCH", "HORN RELAY", "TO OTHER LAMPS", "INTERIOR LIGHT", "FUEL UNIT")
ROUND = ("COS SOCCO", "GOO COGS SO", "SOS OSO", "CS GO OGO", "OCCO SOGS", "GOGO OS")
CODES = ("K14/B 0.8 RD/BK", "L7/A 1.0 GN/WH", "M22 2.5 BN/YE", "P3/C 4.0 RD/WH", "S8 0.8 BU/GN", "T1 1.5 VT/OG")


@pytest.fixture(scope="module")
def readers() -> Readers:
    return replace(probe_readers(), second=None)


def upright(texts: tuple[str, ...]) -> list[np.ndarray]:
    return [set_in_pillow(t) for t in texts]


@pytest.mark.parametrize("lean", [0.35, 0.45, 0.6])
def test_how_far_the_letters_of_a_sheet_lean_is_seen_on_their_stems(lean: float) -> None:
    assert lean_of_sheet([sheared(c, -lean) for c in upright(NAMES)]) == pytest.approx(lean, abs=0.11)


@pytest.mark.parametrize("texts", [NAMES, CODES], ids=["names", "slashes"])
def test_upright_lettering_is_left_as_it_is(texts: tuple[str, ...]) -> None:
    crops = upright(texts)
    assert lean_of_sheet(crops) == 0.0
    assert all(a is b for a, b in zip(crops, stood_up(crops, 0.0), strict=True))


def test_a_few_lines_say_nothing_about_a_sheet() -> None:
    assert lean_of_sheet([sheared(c, -0.45) for c in upright(NAMES[:4])]) == 0.0
    assert lean_of_sheet([]) == 0.0


def asked_of(crops: Sequence[Grey], read: Callable[[Sequence[Grey]], Sequence[Sighting]]) -> float:
    return lean_to_read(crops, [s.probability for s in read(crops)], read)


def test_the_reader_has_the_last_word_on_a_lean(readers: Readers) -> None:
    leaning = [sheared(c, -0.8) for c in upright(NAMES)]
    lean = asked_of(leaning, readers.first.read)
    assert lean > 0
    as_they_are, stood = (readers.first.read(lines) for lines in (leaning, stood_up(leaning, lean)))
    right = [sum(s.text == name for s, name in zip(seen, NAMES, strict=True)) for seen in (as_they_are, stood)]
    assert right[1] == len(NAMES) > right[0]
    stems_alone = [sheared(c, -0.45) for c in upright(NAMES)]

    def surer_of_what_leans(crops: Sequence[Grey]) -> list[Sighting]:
        return [replace(s, probability=0.9 if crops[0] is stems_alone[0] else 0.2) for s in readers.first.read(crops)]

    stems_alone.sort(key=lambda c: -c.shape[1] / c.shape[0])
    assert lean_of_sheet(stems_alone) > 0
    assert asked_of(stems_alone, surer_of_what_leans) == 0.0
    assert lean_to_read([], [], readers.first.read) == 0.0


class Pretends:
    """A reader that believes ``sure`` of lines as they are, and ``surer`` times as much once they are stood up by 0.35."""

    def __init__(self, as_they_are: Sequence[Grey], sure: float, surer: float) -> None:
        self.widths = [c.shape[1] for c in as_they_are]
        self.sure, self.surer = sure, surer
        self.asked = 0

    def read(self, crops: Sequence[Grey]) -> list[Sighting]:
        self.asked += 1
        grown = np.max([(c.shape[1] - w) / c.shape[0] for c, w in zip(crops, self.widths, strict=True)])
        sure = self.sure * (self.surer if abs(grown - 0.35) < 0.07 else 1.0)
        return [Sighting("X", sure, np.zeros((1, 51), np.float32)) for _ in crops]


@pytest.mark.parametrize(("sure", "surer", "lean"), [(0.3, 1.5, 0.35), (0.3, 1.2, 0.0), (0.6, 1.5, 0.0)])
def test_letters_with_few_stems_are_stood_up_only_where_they_are_read_far_better_so(sure, surer, lean) -> None:
    leaning = [sheared(c, -0.3) for c in upright(ROUND)]
    crops = sorted(leaning, key=lambda c: -c.shape[1] / c.shape[0])
    assert lean_of_sheet(crops) == 0.0
    reader = Pretends(crops, sure, surer)
    assert asked_of(crops, reader.read) == pytest.approx(lean)
    assert reader.asked == (1 if sure > 0.5 else 6), "a sheet that is read for sure is not read again under every lean"


def test_a_caption_in_type_stays_upright_on_a_sheet_that_leans() -> None:
    caption, leaning = set_in_pillow("WIRING OF THE HORN"), sheared(set_in_pillow("HORN RELAY"), -0.45)
    first, second = stood_up([caption, leaning], 0.45)
    assert first is caption
    assert second.shape[1] > leaning.shape[1]


def test_leaning_names_are_read_and_believed_more_once_they_stand(readers: Readers) -> None:
    leaning = [sheared(c, -0.65) for c in upright(NAMES)]
    as_they_are = read_crops(leaning, {}, readers)
    stood = read_crops(stood_up(leaning, lean_of_sheet(leaning)), {}, readers)
    assert [r.text for r in stood] == list(NAMES)
    assert sum(r.read_freely for r in stood) > sum(r.read_freely for r in as_they_are)
