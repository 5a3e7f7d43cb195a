"""The commands: parse, call, print. Everything heavy is imported inside the command that needs it.

One place (``main``) prints errors and turns them into exit codes; README.md has the table.
"""

from __future__ import annotations

import io
import os
import sys
from pathlib import Path
from typing import Annotated, NoReturn

import typer

from digitize import __version__
from digitize.errors import DigitizeError

app = typer.Typer(
    help="Scanned vehicle wiring pages in, a harness you can search, trace and export out.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)

ManualFile = Annotated[Path, typer.Argument(metavar="FILE", help="The manual's file, as `digitize read` made it.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print JSON instead of text.")]


def _version(wanted: bool) -> None:
    if wanted:
        print(f"digitize {__version__}")
        raise typer.Exit


@app.callback()
def _start(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version and stop.")
    ] = False,
) -> None:
    pass


@app.command()
def read(
    pages: Annotated[
        list[Path], typer.Argument(metavar="FOLDER", help="A folder of pages, or page files (PNG, JPEG, TIFF, PDF).")
    ],
    conventions: Annotated[
        Path | None,
        typer.Option(help="TOML file with the manual's conventions. Taken from FOLDER/conventions.toml when left out."),
    ] = None,
    into: Annotated[Path | None, typer.Option(help="The manual's file; FOLDER.manual when left out.")] = None,
    rights: Annotated[
        str | None, typer.Option(help="Rights note that travels with the manual and every export.")
    ] = None,
    jobs: Annotated[int | None, typer.Option(min=0, help="Pages read at the same time; 0: one a core.")] = None,
    changes: Annotated[
        list[str] | None, typer.Option("--set", metavar="NAME=VALUE", help="Change a setting; see the README's table.")
    ] = None,
    again: Annotated[
        bool, typer.Option("--again", help="Read every page again, also those that did not change.")
    ] = False,
    keep_work: Annotated[
        bool, typer.Option("--keep-work", help="Keep every intermediate as a named file in FILE.work/.")
    ] = False,
    drop: Annotated[
        list[str] | None,
        typer.Option(metavar="SHEET", help="Take a sheet out of the manual whose page is gone; can be given again."),
    ] = None,
) -> None:
    """Digitize a folder of scanned pages into one manual file. A second call only reads what is new or changed."""
    from digitize.commands_read import read_manual
    from digitize.settings import settings_from

    pairs = [*(changes or []), *([f"jobs={jobs}"] if jobs is not None else [])]
    settings = settings_from(pairs)
    read_manual(pages, conventions, into, rights, settings, again=again, keep_work=keep_work, drop=tuple(drop or ()))


@app.command()
def report(file: ManualFile, as_json: AsJson = False) -> None:
    """Say what was read: pages, wires, connectors, splices, findings and doubts, the most doubtful first."""
    from digitize.commands_show import show_report

    show_report(file, as_json=as_json)


@app.command()
def conventions(
    file: ManualFile,
    to: Annotated[Path | None, typer.Option(help="File to write instead of printing; nothing is overwritten.")] = None,
) -> None:
    """Print the conventions that the manual was read with; what was worked out from the pages says what speaks for it."""
    from digitize.commands_show import show_conventions

    show_conventions(file, to)


@app.command()
def desk(
    file: ManualFile,
    port: Annotated[int, typer.Option(min=0, max=65535, help="Port on this machine; 0: any free one.")] = 0,
    host: Annotated[
        str, typer.Option(help="Address to listen on; anything but this machine needs --key.")
    ] = "127.0.0.1",
    key: Annotated[str | None, typer.Option(help="Access key that a visitor from another machine must give.")] = None,
    no_browser: Annotated[bool, typer.Option("--no-browser", help="Only print the address.")] = False,
    new: Annotated[bool, typer.Option("--new", help="Begin an empty manual; its pages are added at the desk.")] = False,
) -> None:
    """Open the review desk in the browser: look at the pages and correct what was read."""
    from digitize.commands_show import open_desk

    open_desk(file, host=host, port=port, key=key, browser=not no_browser, new=new)


@app.command()
def export(
    file: ManualFile,
    form: Annotated[str, typer.Option("--as", metavar="FORM", help="graphml, json, wires or zones.")],
    to: Annotated[Path, typer.Option(help="File to write; - for the terminal.")],
) -> None:
    """Write the harness for other programs: GraphML, JSON, a wire list (CSV) or a zone index (CSV)."""
    from digitize.commands_show import write_export

    write_export(file, form, to)


@app.command()
def trace(
    file: ManualFile,
    name: Annotated[
        str, typer.Argument(metavar="NAME", help="A printed name, a connector, a wire code, a zone, or an id.")
    ],
    as_json: AsJson = False,
    to: Annotated[
        str, typer.Option(metavar="GOAL", help="all, feed, ground or fuse (the nearest, whatever it feeds).")
    ] = "all",
    position: Annotated[
        list[str] | None,
        typer.Option(metavar="SWITCH=POSITION", help="How a switch stands: off, on, or the terminal it joins."),
    ] = None,
    sheet: Annotated[
        Path | None,
        typer.Option(metavar="OUT.html|.pdf", help="Write a sheet to print instead, with the scan of every hop."),
    ] = None,
    paper: Annotated[str, typer.Option(help="Paper of the sheet: a4 or letter.")] = "a4",
) -> None:
    """Follow a component to its fuse or feed and to ground, over all pages."""
    from digitize.commands_ask import show_trace

    show_trace(file, name, as_json=as_json, to=to, positions=position or (), sheet=sheet, paper=paper)


@app.command()
def fault(
    file: ManualFile,
    dark: Annotated[list[str] | None, typer.Option(metavar="NAME", help="A load that does not work.")] = None,
    works: Annotated[list[str] | None, typer.Option(metavar="NAME", help="A load that works.")] = None,
    volts: Annotated[
        list[str] | None, typer.Option(metavar="PLACE=VOLTS", help="What a voltmeter reads there against the body.")
    ] = None,
    continuity: Annotated[
        list[str] | None, typer.Option(metavar="PLACE=PLACE", help="Two places between which there is continuity.")
    ] = None,
    no_continuity: Annotated[
        list[str] | None, typer.Option(metavar="PLACE=PLACE", help="Two places between which there is none.")
    ] = None,
    position: Annotated[
        list[str] | None,
        typer.Option(metavar="SWITCH=POSITION", help="How a switch stands: off, on, or the terminal it joins."),
    ] = None,
    length: Annotated[
        list[str] | None, typer.Option(metavar="WIRE=METRES", help="How long a wire is; a diagram does not say.")
    ] = None,
    watts: Annotated[
        list[str] | None, typer.Option(metavar="NAME=WATTS", help="The rated power of a load at 12 V.")
    ] = None,
    assume: Annotated[
        list[str] | None, typer.Option(metavar="NAME=NUMBER", help="A usual value of yours; see the README's table.")
    ] = None,
    as_json: AsJson = False,
    sheet: Annotated[
        Path | None,
        typer.Option(metavar="OUT.html|.pdf", help="Write a sheet to print instead, with the scan of the next check."),
    ] = None,
    paper: Annotated[str, typer.Option(help="Paper of the sheet: a4 or letter.")] = "a4",
) -> None:
    """Say which faults explain what works, what does not and what was measured, and what to measure next."""
    from digitize.commands_fault import show_fault
    from digitize.trace.assumed import values_from
    from digitize.trace.typed import told_from

    told = told_from(
        works=works or (), dark=dark or (), volts=volts or (), joined=continuity or (), apart=no_continuity or (),
        positions=position or (), lengths=length or (), watts=watts or (),
    )  # fmt: skip
    show_fault(file, told, values_from(assume or ()), as_json=as_json, sheet=sheet, paper=paper)


@app.command()
def find(
    file: Annotated[
        Path, typer.Argument(metavar="FILE", help="The manual's file, or a folder: every .manual file below it.")
    ],
    words: Annotated[list[str], typer.Argument(metavar="WORDS", help="Words, a code, an id or a zone.")],
    as_json: AsJson = False,
) -> None:
    """Find names, codes, connectors and zones in everything that was read, in one manual or in a folder of them."""
    from digitize.commands_find import show_found

    show_found(file, " ".join(words), as_json=as_json)


STOPPED = 130
"""The exit code of a command that was stopped with Ctrl-C."""


def _told_to_stop() -> NoReturn:
    print("digitize: stopped. What was read so far is kept; the same command goes on from there.", file=sys.stderr)
    sys.exit(STOPPED)


def main() -> None:
    """Run the command line; the one place that prints errors. Ends the process with the exit code of README's table."""
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(errors="backslashreplace")  # file names need not be UTF-8; stderr tells them so anyway
    try:
        app()
    except DigitizeError as fault:
        print(
            f"digitize: {fault.what}\n{_indented(fault.advice)}" if "\n" in fault.what else _line(fault),
            file=sys.stderr,
        )
        sys.exit(fault.exit_code)
    except BrokenPipeError:  # the reader of our output went away, e.g. `| head`
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(0)
    except KeyboardInterrupt:
        _told_to_stop()
    except SystemExit as end:  # typer turns Ctrl-C into an exit of its own, without a word
        if end.code == STOPPED:
            _told_to_stop()
        raise
    except Exception as fault:
        if os.environ.get("DIGITIZE_TRACEBACK"):
            raise
        words = " ".join(str(fault).split())
        print(
            f"digitize: unexpected fault, {type(fault).__name__}: {words} "
            "Please report it; DIGITIZE_TRACEBACK=1 shows where.",
            file=sys.stderr,
        )
        sys.exit(1)


def _line(fault: DigitizeError) -> str:
    return f"digitize: {fault.what} {fault.advice}"


def _indented(text: str) -> str:
    return f"  {text}"
