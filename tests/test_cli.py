"""The command line itself: quick help, one line for every fault, silence where nobody watches."""

from __future__ import annotations

import io
import subprocess
import sys
from pathlib import Path

import pytest

import digitize.cli
from digitize import __version__
from digitize.batch.state import Failed
from digitize.commands_read import TerminalProgress, manual_beside
from digitize.errors import NothingToRead

HEAVY = ("numpy", "cv2", "scipy", "pydantic", "PIL", "networkx", "onnxruntime", "starlette")


def test_help_waits_for_no_heavy_import() -> None:
    code = (
        "import sys, digitize.cli, typer.main; typer.main.get_command(digitize.cli.app);"
        f"print([m for m in {HEAVY!r} if m in sys.modules])"
    )
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=300)
    assert ran.stdout.strip() == "[]"


@pytest.mark.parametrize("command", ["read", "report", "conventions", "desk", "export", "trace", "find"])
def test_every_command_has_its_help(digitize, command: str) -> None:
    ran = digitize(command, "--help")
    assert ran.returncode == 0
    assert "Usage" in ran.stdout


def test_the_version_is_told(digitize) -> None:
    assert digitize("--version").stdout == f"digitize {__version__}\n"


@pytest.mark.parametrize(
    ("fault", "code", "told"),
    [
        (NothingToRead("No page found in x.", "Give pages."), 3, "digitize: No page found in x. Give pages.\n"),
        (ZeroDivisionError("a\nslip"), 1, "digitize: unexpected fault, ZeroDivisionError: a slip"),
        (KeyboardInterrupt(), 130, "digitize: stopped."),
        (SystemExit(130), 130, "digitize: stopped. What was read so far is kept"),
        (SystemExit(2), 2, ""),
    ],
)
def test_one_place_turns_faults_into_a_line_and_an_exit_code(monkeypatch, capsys, fault, code: int, told: str) -> None:
    def app() -> None:
        raise fault

    monkeypatch.setattr(digitize.cli, "app", app)
    monkeypatch.delenv("DIGITIZE_TRACEBACK", raising=False)
    with pytest.raises(SystemExit) as end:
        digitize.cli.main()
    assert end.value.code == code
    said = capsys.readouterr().err
    assert said.startswith(told)
    assert said.count("\n") <= 1


def test_a_reader_of_the_output_may_go_away() -> None:
    code = "import digitize.cli as c\nc.app = lambda: [print('x' * 80) for _ in range(20000)]\nc.main()"
    with subprocess.Popen(
        [sys.executable, "-c", code], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as ran:
        assert ran.stdout
        assert ran.stderr
        ran.stdout.readline()
        ran.stdout.close()
        assert ran.stderr.read() == ""
        assert ran.wait(60) == 0


class Screen(io.StringIO):
    """A stand-in for a terminal."""

    def isatty(self) -> bool:
        return True


def run_of(progress: TerminalProgress) -> None:
    progress.begin(2, 1)
    progress.page("page_01", 3.0)
    progress.failed(Failed("page_02", "page_02.png is damaged.", "Scan it again."))
    progress.note("page_01.png: it has no printed frame.")
    progress.end()


def test_progress_moves_on_a_terminal(monkeypatch) -> None:
    screen = Screen()
    monkeypatch.setattr("sys.stderr", screen)
    run_of(TerminalProgress())
    assert "1 of 2 pages read" in screen.getvalue()
    assert "page_02.png is damaged. Scan it again.\n" in screen.getvalue()


def test_progress_is_silent_elsewhere_but_faults_and_notes_are_told(monkeypatch) -> None:
    file = io.StringIO()
    monkeypatch.setattr("sys.stderr", file)
    run_of(TerminalProgress())
    assert file.getvalue() == "page_02.png is damaged. Scan it again.\npage_01.png: it has no printed frame.\n"


def test_a_manual_lies_beside_its_pages(tmp_path: Path) -> None:
    pages = tmp_path / "van 1972"
    pages.mkdir()
    assert manual_beside(pages) == tmp_path / "van 1972.manual"
    page = pages / "one.sheet.png"
    page.touch()
    assert manual_beside(page) == pages / "one.sheet.manual"
