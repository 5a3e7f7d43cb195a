"""The readers there are on this machine, probed once at the start of a run."""

from __future__ import annotations

from dataclasses import dataclass

from digitize.errors import PartMissing
from digitize.reading.calibrate import Calibration, Curve
from digitize.reading.engines import Reader
from digitize.reading.general_network import probe_general_network
from digitize.reading.lettering import WEIGHTS, Lettering
from digitize.reading.tesseract import probe_tesseract
from digitize.reading.trust import Trust

CALIBRATION = WEIGHTS.with_name("calibration.json")
TRUST = WEIGHTS.with_name("trust.json")

NO_TESSERACT = "The Tesseract program is missing: no second reader looked at doubtful lettering."
NO_NETWORK = (
    "The recogniser's weights are missing: all lettering was read by Tesseract, which is far weaker on drawings."
)

NO_GENERAL_NETWORK = (
    "The general OCR network is not installed: doubtful lettering was not read by a third, independent reader "
    "(pip install 'digitize[second-network]')."
)

UNFITTED_TRUST = Trust({})
_UNFITTED = Calibration({}, Curve(0.8, -0.3))


@dataclass(frozen=True, slots=True)
class Readers:
    """The first reader sees every text; the second and third, where there are such, those the first is not sure of.

    ``notes``: what is missing and what that costs, one sentence each, for the provenance of the run.
    """

    first: Reader
    second: Reader | None
    calibration: Calibration
    notes: tuple[str, ...] = ()
    third: Reader | None = None
    trust: Trust = UNFITTED_TRUST

    @property
    def others(self) -> tuple[Reader, ...]:
        """The readers besides the first."""
        return tuple(r for r in (self.second, self.third) if r is not None)

    @property
    def names(self) -> tuple[str, ...]:
        """Names and versions, first reader first."""
        return (self.first.name, *(r.name for r in self.others))


def probe_readers() -> Readers:
    """Find the readers: our network first, then Tesseract and the general network where they are installed.

    Tesseract reads alone where our weights are missing. Raises PartMissing when there is none at all.
    """
    tesseract, general = probe_tesseract(), probe_general_network()
    missing = (
        *(() if tesseract is not None else (NO_TESSERACT,)),
        *(() if general is not None else (NO_GENERAL_NETWORK,)),
    )
    if all(f.is_file() for f in (WEIGHTS, CALIBRATION, TRUST)):
        return Readers(Lettering(), tesseract, Calibration.load(CALIBRATION), missing, general, Trust.load(TRUST))
    if tesseract is None:
        raise PartMissing("No reader of lettering was found.", "Reinstall digitize, or install Debian's tesseract-ocr.")
    return Readers(tesseract, None, _UNFITTED, (NO_NETWORK,))
