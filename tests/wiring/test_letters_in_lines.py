"""Letters that ran into a wire are of their code once it is read; stretches of wires close to codes stay wires."""

from digitize.harness.claim import Alternative
from digitize.harness.place import Box
from digitize.ink.state import Marks, Meeting, Stroke
from digitize.reading.state import ReadText
from digitize.wiring.letters_in_lines import without_letters

CODE = Box(20, 20, 40, 22)


def read(box=CODE, kind="code", probability=0.98, text="C5A 16 BU/YE", angle=0):
    told = ((kind, (Alternative(text, probability),)),)
    return ReadText(0, box, angle, text, kind, probability, (), told, ())


def marks(*strokes, meetings=()):
    lines = tuple(Stroke(tuple((float(x), float(y)) for x, y in points), 0.3) for points in strokes)
    return Marks(None, lines, tuple(meetings), (), (), (), (), ())


LEFT, RIGHT = ((5, 22.6), (35, 22.6)), ((35, 22.6), (60, 22.6))
SLASH, REST = ((35, 22.6), (36.5, 20.2)), ((36.5, 20.2), (38, 21), (39, 20.2), (39, 21.8))
FOOT = Meeting((35, 22.6), "join", 0.6, ((0, 1), (1, 0), (2, 0)))
TOP = Meeting((36.5, 20.2), "corner", 0.9, ((2, 1), (3, 0)))
TOUCHED = marks(LEFT, RIGHT, SLASH, REST, meetings=(FOOT, TOP))


def test_letters_that_hang_on_a_wire_are_taken_off_and_the_wire_goes_on():
    found = without_letters(TOUCHED, [read()])
    assert [s.points for s in found.strokes] == [s.points for s in TOUCHED.strokes[:2]]
    (corner,) = found.meetings
    assert (corner.kind, corner.strokes) == ("corner", ((0, 1), (1, 0)))


def test_upright_codes_have_letters_too():
    def turned(points):
        return tuple((y, 60 - x) for x, y in points)

    before = marks(*(turned(s.points) for s in TOUCHED.strokes), meetings=TOUCHED.meetings)
    before = marks(
        *(s.points for s in before.strokes),
        meetings=[Meeting((22.6, 25), "join", 0.6, FOOT.strokes), Meeting((20.2, 23.5), "corner", 0.9, TOP.strokes)],
    )
    assert len(without_letters(before, [read(Box(20, 20, 22, 40), angle=90)]).strokes) == 2


def test_letters_of_a_name_that_hang_on_a_wire_are_taken_off_too():
    name = read(text="SWITCH", kind="word")
    assert [s.points for s in without_letters(TOUCHED, [name]).strokes] == [s.points for s in TOUCHED.strokes[:2]]


def test_the_foot_of_a_letter_right_below_the_box_of_its_code_is_taken_off_too():
    foot = ((35, 22.6), (35, 22.15), (36.5, 22.15))
    found = without_letters(marks(LEFT, RIGHT, foot, meetings=(FOOT,)), [read()])
    assert [s.points for s in found.strokes] == [s.points for s in TOUCHED.strokes[:2]]


def test_only_a_sure_string_says_that_its_strokes_are_letters():
    for text in (
        read(probability=0.6),
        read(kind="number"),
        read(text="C5A"),
        read(text="FAN", kind="word"),
        read(Box(20, 40, 40, 42)),
    ):
        assert without_letters(TOUCHED, [text]) == TOUCHED


def test_a_stretch_between_two_places_of_a_wire_stays_close_though_its_code_is():
    arms = ((0, 1), (1, 0), (2, 0))
    between = marks(
        ((5, 22.3), (30, 22.3)), ((30, 22.3), (30, 40)), ((30, 22.3), (33, 20.6), (36, 22.3)), ((36, 22.3), (60, 22.3)),
        meetings=(Meeting((30, 22.3), "join", 0.6, arms), Meeting((36, 22.3), "corner", 0.6, ((2, 1), (3, 0)))),
    )  # fmt: skip
    assert without_letters(between, [read()]) == between


def test_the_stub_of_a_wire_before_its_code_stays():
    leg = marks(
        ((43, 21), (60, 21)), ((43, 5), (43, 21)), ((38, 21), (40.7, 21)), ((40.7, 21), (43, 21)),
        meetings=(Meeting((40.7, 21), "join", 0.6, ((2, 1), (3, 0))),),
    )  # fmt: skip
    assert without_letters(leg, [read()]) == leg


def test_a_wire_that_was_led_into_a_letter_goes_on_straight_without_it():
    led = (5, 22.6), (34, 22.6), (35, 21.0)
    on = (35, 21.0), (36, 22.6), (60, 22.6)
    stub = (35, 21.0), (34.2, 20.2)
    found = without_letters(
        marks(led, on, stub, meetings=[Meeting((35, 21.0), "join", 0.6, ((0, 1), (1, 0), (2, 0)))]), [read()]
    )
    assert len(found.strokes) == 2
    assert found.meetings[0].kind == "corner"


def test_where_a_wire_begins_at_an_end_of_its_string_nothing_is_taken():
    for x in (20.3, 39.8):
        begun = marks(
            ((x, 21), (x + 20, 21)), ((x, 21), (x - 20, 21)), ((x, 21), (29, 21.2)),
            meetings=[Meeting((x, 21), "join", 0.6, ((0, 0), (1, 0), (2, 0)))],
        )  # fmt: skip
        assert len(without_letters(begun, [read()]).strokes) == 3
