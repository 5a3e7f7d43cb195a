"""The optional general network keeps the readers' protocol, and where it is missing that is said."""

from __future__ import annotations

from importlib.util import find_spec

import numpy as np
import pytest

from digitize.reading import readers
from digitize.reading.alphabet import WIDTH
from digitize.reading.confusions import frames_of
from digitize.reading.engines import Grey, Sighting
from digitize.reading.general_network import PACKAGE, GeneralNetwork, probe_general_network
from digitize.reading.read import read_crops
from digitize.reading.readers import NO_GENERAL_NETWORK, Readers, probe_readers
from fixtures.lettering_training.plain_words import set_in_pillow

WORDS = ("HORN RELAY", "FUSE 12", "A7 18 RED/BLK", "25A")


def test_its_absence_is_said_and_reading_goes_on(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(readers, "probe_general_network", lambda: None)
    found = probe_readers()
    assert NO_GENERAL_NETWORK in found.notes
    assert "digitize[second-network]" in NO_GENERAL_NETWORK
    assert found.third is None
    assert read_crops([set_in_pillow("HORN")], {}, found)[0].text == "HORN"


def test_without_the_package_the_probe_finds_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("digitize.reading.general_network.find_spec", lambda _: None)
    assert probe_general_network() is None


needs_package = pytest.mark.skipif(find_spec(PACKAGE) is None, reason="the extra second-network is not installed")


@pytest.fixture(scope="module")
def network() -> GeneralNetwork:
    found = probe_general_network()
    assert found is not None
    return found


@needs_package
def test_it_reads_plain_words_into_our_alphabet(network: GeneralNetwork) -> None:
    said = network.read([set_in_pillow(w) for w in WORDS])
    assert [s.text for s in said] == list(WORDS)
    for sighting in said:
        assert sighting.frames.shape[1] == WIDTH
        assert np.allclose(np.exp(sighting.frames).sum(axis=1), 1, atol=1e-3)


@needs_package
def test_its_version_is_in_the_provenance(network: GeneralNetwork) -> None:
    assert network.name.startswith("rapidocr-")
    found = probe_readers()
    assert network.name in found.names
    assert NO_GENERAL_NETWORK not in found.notes


class Says:
    """A reader that says one thing of every crop."""

    def __init__(self, name: str, like: Sighting) -> None:
        self.name = name
        self._like = like

    def read(self, crops: list[Grey]) -> list[Sighting]:
        return [self._like for _ in crops]


def test_two_others_that_agree_outweigh_a_doubtful_first() -> None:
    calibration = probe_readers().calibration
    crop = set_in_pillow("X")
    unsure = Sighting("B12", 0.5, frames_of("B12", 0.72))
    other = Sighting("B1Z", 0.9, frames_of("B1Z", 0.95))
    alone = read_crops([crop], {}, Readers(Says("first", unsure), None, calibration))[0]
    with_both = read_crops(
        [crop], {}, Readers(Says("first", unsure), Says("second", other), calibration, (), Says("third", other))
    )[0]
    assert alone.text == "B12"
    assert with_both.text == "B1Z"
    assert with_both.readers == ("first", "second", "third")


def test_agreement_of_different_readers_is_evidence() -> None:
    calibration = probe_readers().calibration
    crop = set_in_pillow("X")
    unsure = Sighting("HORN", 0.3, frames_of("HORN", 0.7))
    chances = [
        read_crops([crop], {}, Readers(Says("first", unsure), second, calibration, (), third))[0].probability
        for second, third in (
            (None, None),
            (Says("second", unsure), None),
            (Says("second", unsure), Says("third", unsure)),
        )
    ]
    assert chances[0] < chances[1] < chances[2]
