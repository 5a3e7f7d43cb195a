"""The conventions of one manual, as a person types them from its legend page into a TOML file.

Everything may be left out: what is not stated is unknown, and codes are then found by a loose pattern. The whole form::

    vehicle = "FERNWAY 12 VAN"                # what the manual is about, in the user's words
    rights = "own copy, for private use"      # travels with every export
    page_size_mm = [420, 297]                 # width, height of a diagram page

    [code]                                    # how a wire code is printed
    pattern = "{circuit}{number}{segment?} {gauge} {colour}{/tracer?}"   # or a list of patterns
    tracer_small = false                      # true: the tracer in small letters, as in RED white
    number_digits = [1, 3]                    # fewest and most digits of {number}
    segment_letters = "ABCDEFGHJKLM"          # letters {segment} uses; A-Z when left out
    example = "S4C 16 RED/BLU"                # one code from a page: it must fit the pattern and the tables

    [circuits]                                # circuit letters or numbers → meaning
    S = "side lamps"

    [colours]                                 # abbreviation → colour in words
    RED = "red"

    [keys]                                    # short keys, where a table says the rest: pattern "{key}"
    7 = { gauge = "16", colour = "RED" }      # circuit, gauge, colour, tracer

    [gauges]
    system = "awg"                            # awg, sae or mm2
    sizes = ["10", "14", "16", "18"]          # as printed

    [connectors]
    pattern = "{prefix}{number:1-4 digits}{suffix:1 letters?}"           # this is what holds when left out
    [connectors.prefixes]                     # prefix → part of the vehicle
    K = "engine bay"

    [grommets]
    prefix = "GR"
    [grounds]
    prefix = "E"

    [zones]
    across = "numbers"                        # what runs along the top: numbers or letters
    down = "letters"
    columns = 14                              # columns on one sheet
    rows = 8
    first_across = "1"                        # first label at the left of the first sheet
    first_down = "A"                          # first label at the top
    skipped = "IO"                            # letters the grid leaves out
    continues = true                          # labels across go on from sheet to sheet
    labels_at = ["top", "left"]               # sides that carry labels
    order = "letter-number"                   # how a reference is written: C5; number-letter: 5C

    [drawing]
    crossing = "plain"                        # lines that pass without joining: plain or hop
    splice = "dot"                            # joined lines: dot or none
    cavities_printed = false                  # cavity numbers stand at the connectors on the diagrams

    [[pages]]                                 # kinds of pages, counted from 1 in the order of the files
    page = 4
    kind = "chart"                            # diagram, chart, index, legend or other
    label = "WD-4"

    [[joined]]                                # a fold-out that was scanned in overlapping parts, in any order
    sheet = "main_harness"                    # what the sheet is called then
    parts = ["scan_07.png", "scan_08.png"]    # file names; parts named NAME_part1, NAME_part2 are joined without this

The pattern language is described in ``digitize.legend.shapes``. A few more that people have needed::

    "{gauge}-{colour}{/tracer?}-{number:3 digits}"                      # 0.75-GN/YE-203
    "{circuit:2 digits}.{number:2 digits}{segment?} {gauge} {colour}{-tracer?}"
    "{unit:1 digits?}{circuit}{number:1-4 digits}{segment}{gauge}{phase:N|A|B|C|V?}"   # P215A4N
    "{colour}{tracer?}"                                                 # only colours, written together
    "{number:1-3 digits}"                                               # only a number
    "{colour}{ tracer?}"                                                # colours in words, with tracer_small: RED white
"""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Annotated, Any, Literal, Self

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError, field_validator, model_validator

from digitize.errors import ConventionsWrong
from digitize.legend.axes import labels_from
from digitize.legend.conventions_faults import told
from digitize.legend.shapes import CAPITALS, pieces_of, spec_shape

PageKind = Literal["diagram", "chart", "index", "legend", "other"]
AxisKind = Literal["letters", "numbers"]
Side = Literal["top", "bottom", "left", "right"]

CODE_FIELDS = frozenset({"circuit", "number", "segment", "gauge", "colour", "tracer", "key"})
CONNECTOR_FIELDS = frozenset({"prefix"})


def _listed(value: Any) -> Any:
    return (value,) if isinstance(value, str) else value


def _as_printed(value: Any) -> Any:
    """Sizes may be typed as numbers; a string is what was printed."""
    if isinstance(value, list | tuple):
        return tuple(str(v) if isinstance(v, int | float) and not isinstance(v, bool) else v for v in value)
    return value


def _as_text(value: Any) -> Any:
    return str(value) if isinstance(value, int | float) and not isinstance(value, bool) else value


Key = Annotated[str, Field(pattern=r"^\S(.*\S)?$", max_length=24)]
Prefix = Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9.\-]{0,5}$")]


class _Stated(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class CodeConventions(_Stated):
    """How a wire code is printed; ``pattern`` empty: unknown. ``tracer_small``: the tracer's colour stands in small letters."""

    pattern: Annotated[tuple[str, ...], BeforeValidator(_listed)] = ()
    tracer_small: bool = False
    number_digits: tuple[int, int] = (1, 3)
    segment_letters: Annotated[str, Field(min_length=1)] = CAPITALS
    example: str | None = None

    @field_validator("pattern")
    @classmethod
    def _pattern_is_typed_right(cls, patterns: tuple[str, ...]) -> tuple[str, ...]:
        for pattern in patterns:
            _check_pattern(pattern, CODE_FIELDS)
        return patterns

    @field_validator("number_digits")
    @classmethod
    def _digits_count_up(cls, digits: tuple[int, int]) -> tuple[int, int]:
        if not 1 <= digits[0] <= digits[1] <= 8:
            raise ValueError("write the fewest and the most digits, e.g. [1, 3], between 1 and 8")
        return digits


class KeyMeaning(_Stated):
    """What a table on the page says of a short key: the rest of the wire's code."""

    circuit: Key | None = None
    gauge: Annotated[Key | None, BeforeValidator(_as_text)] = None
    colour: Key | None = None
    tracer: Key | None = None


class GaugeConventions(_Stated):
    """Conductor sizes as printed and the system they are counted in; None when the manual does not say."""

    system: Literal["awg", "sae", "mm2"] | None = None
    sizes: Annotated[tuple[Key, ...], BeforeValidator(_as_printed)] = ()


class ConnectorConventions(_Stated):
    """How a connector's id is made, and the part of the vehicle each prefix stands for."""

    pattern: str = "{prefix}{number:1-4 digits}{suffix:1 letters?}"
    prefixes: dict[Prefix, str] = {}

    @field_validator("pattern")
    @classmethod
    def _pattern_is_typed_right(cls, pattern: str) -> str:
        _check_pattern(pattern, CONNECTOR_FIELDS)
        return pattern


class MarkConventions(_Stated):
    """The prefix of grommets or grounds: prefix and digits."""

    prefix: Prefix | None = None


class ZoneConventions(_Stated):
    """The map grid on the frame; None where not stated."""

    across: AxisKind | None = None
    down: AxisKind | None = None
    columns: Annotated[int, Field(ge=1, le=200)] | None = None
    rows: Annotated[int, Field(ge=1, le=200)] | None = None
    first_across: str | None = None
    first_down: str | None = None
    skipped: Annotated[str, Field(pattern=r"^[A-Z]*$")] = ""
    continues: bool | None = None
    labels_at: tuple[Side, ...] = ()
    order: Literal["letter-number", "number-letter"] = "letter-number"

    @model_validator(mode="after")
    def _axes_agree(self) -> Self:
        faults = []
        if self.across is not None and self.across == self.down:
            faults.append(f"across and down cannot both be {self.across}")
        for key, kind, first in (
            ("first_across", self.across, self.first_across),
            ("first_down", self.down, self.first_down),
        ):
            if first is not None and kind is not None:
                try:
                    labels_from(kind, first, 1, frozenset(self.skipped))
                except ValueError as fault:
                    faults.append(f"{key}: {fault}")
        if faults:
            raise ValueError("; ".join(faults))
        return self


class DrawingConventions(_Stated):
    """Drawing habits; None where not stated (the sheet's own habit is then measured)."""

    crossing: Literal["plain", "hop"] | None = None
    splice: Literal["dot", "none"] | None = None
    cavities_printed: bool | None = None


class StatedPage(_Stated):
    """What the user says about one page; ``page`` counts from 1 in manual order."""

    page: Annotated[int, Field(ge=1)]
    kind: PageKind
    label: str | None = None


class JoinedSheet(_Stated):
    """A sheet that was scanned in overlapping ``parts`` (file names without folder); ``sheet`` becomes its id."""

    sheet: Annotated[str, Field(pattern=r"^[\w.-]{1,80}$")]
    parts: Annotated[tuple[str, ...], Field(min_length=2)]


class Conventions(_Stated):
    """All that is stated about a manual. ``Conventions()`` states nothing."""

    vehicle: str | None = None
    rights: str | None = None
    page_size_mm: tuple[Annotated[float, Field(gt=20, lt=3000)], Annotated[float, Field(gt=20, lt=3000)]] | None = None
    code: CodeConventions = CodeConventions()
    circuits: dict[Key, str] = {}
    colours: dict[Key, str] = {}
    keys: dict[Key, KeyMeaning] = {}
    gauges: GaugeConventions = GaugeConventions()
    connectors: ConnectorConventions = ConnectorConventions()
    grommets: MarkConventions = MarkConventions()
    grounds: MarkConventions = MarkConventions()
    zones: ZoneConventions = ZoneConventions()
    drawing: DrawingConventions = DrawingConventions()
    pages: tuple[StatedPage, ...] = ()
    joined: tuple[JoinedSheet, ...] = ()

    @field_validator("joined")
    @classmethod
    def _each_part_once(cls, joined: tuple[JoinedSheet, ...]) -> tuple[JoinedSheet, ...]:
        parts = [p for j in joined for p in j.parts]
        twice = sorted({p for p in parts if parts.count(p) > 1})
        if twice:
            raise ValueError(f"the part {', '.join(twice)} is listed more than once")
        return joined

    @field_validator("pages")
    @classmethod
    def _each_page_once(cls, pages: tuple[StatedPage, ...]) -> tuple[StatedPage, ...]:
        numbers = [p.page for p in pages]
        twice = sorted({n for n in numbers if numbers.count(n) > 1})
        if twice:
            raise ValueError(f"page {', '.join(map(str, twice))} is listed more than once")
        return pages

    def kind_of_page(self, number: int) -> str | None:
        """The stated kind of page ``number`` (from 1), None when not stated."""
        return next((p.kind for p in self.pages if p.page == number), None)

    def zone_labels(self) -> tuple[tuple[str, ...], tuple[str, ...]] | None:
        """All labels across (over all diagram sheets when they go on) and down; None when the grid is not fully stated.

        The number of diagram sheets is that of ``pages``; with no pages listed and ``continues`` set it is unknown.
        """
        z = self.zones
        if z.across is None or z.down is None or z.columns is None or z.rows is None:
            return None
        sheets = sum(p.kind == "diagram" for p in self.pages)
        if z.continues and not sheets:
            return None
        count = z.columns * (sheets if z.continues else 1)
        skipped = frozenset(z.skipped)
        first = {"letters": "A", "numbers": "1"}
        return (
            labels_from(z.across, z.first_across or first[z.across], count, skipped),
            labels_from(z.down, z.first_down or first[z.down], z.rows, skipped),
        )


def _check_pattern(pattern: str, known: frozenset[str]) -> None:
    faults = []
    for piece in pieces_of(pattern):
        if piece.name is None:
            continue
        if piece.spec is not None:
            try:
                spec_shape(piece.spec)
            except ValueError as fault:
                faults.append(f"{{{piece.name}}}: {fault}")
        elif piece.name not in known:
            faults.append(
                f"{{{piece.name}}} has no table ({', '.join(sorted(known))} do); say what it is made of, like "
                f"{{{piece.name}:1 letters}}",
            )
    if faults:
        raise ValueError("; ".join(faults))


# -- loading ----------------------------------------------------------------------------------------------------------


def load_conventions(path: str | Path) -> Conventions:
    """Read a conventions file (UTF-8 TOML).

    Raises ConventionsWrong that lists every fault with its line and key, or says that the file cannot be read.
    """
    path = Path(path)
    try:
        text = path.read_text(encoding="utf-8")
    except OSError as fault:
        raise ConventionsWrong(f"{path}: cannot be read ({fault.strerror}).", "Name an existing TOML file.") from fault
    except UnicodeDecodeError as fault:
        raise ConventionsWrong(f"{path}: is not UTF-8 text.", "Save it as UTF-8 from a text editor.") from fault
    return conventions_from(text, str(path))


def conventions_from(text: str, name: str = "conventions") -> Conventions:
    """The conventions that TOML ``text`` states; ``name`` stands in front of every fault. Raises ConventionsWrong."""
    try:
        stated = tomllib.loads(text)
    except tomllib.TOMLDecodeError as fault:
        raise ConventionsWrong(
            f"{name}: no valid TOML: {fault}.", 'Keys look like: name = "value", tables like: [colours].'
        ) from fault
    try:
        conventions = Conventions.model_validate(stated)
    except ValidationError as wrong:
        faults = [told(e["loc"], e["msg"], e["type"], text, Conventions) for e in wrong.errors()]
    else:
        faults = _example_faults(conventions, text)
        if not faults:
            return conventions
    listed = "\n".join(f"  {f}" for f in faults)
    raise ConventionsWrong(f"{name}: {len(faults)} fault(s):\n{listed}\n", "Correct these and run again.")


def _example_faults(conventions: Conventions, text: str) -> list[str]:
    """The example must fit its own pattern: most mistyped patterns and tables are found so."""
    from digitize.legend.codes import parse_code  # noqa: PLC0415  (codes needs Conventions)

    example = conventions.code.example
    if example is None or not conventions.code.pattern or parse_code(example, conventions, strict=True) is not None:
        return []
    loosely = parse_code(example, conventions)
    why = "it does not fit the pattern"
    if loosely is not None:
        tables = (
            ("circuit", loosely.circuit, conventions.circuits),
            ("gauge", loosely.gauge, conventions.gauges.sizes),
            ("colour", loosely.colour, conventions.colours),
            ("tracer", loosely.tracer, conventions.colours),
        )
        missing = [f"{what} {value}" for what, value, table in tables if value and table and value not in table]
        why = f"it fits the pattern, but its {', '.join(missing) or 'number or segment'} is not in the tables"
    return [told(("code", "example"), f"'{example}': {why}", "example", text, Conventions)]
