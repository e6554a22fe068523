"""What the commands share: options, engines loaded once, output, batches."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO, TypeVar

import click

from etui.errors import BadInput, EtuiError, UnknownTerm

if TYPE_CHECKING:
    from etui.exchange import Taken
    from etui.judging import Judge
    from etui.knowledge.model import Reference
    from etui.reading import Reader
    from etui.trays.model import Stock, Tray

F = TypeVar("F", bound=Callable[..., Any])

json_option = click.option("--json", "as_json", is_flag=True, help="Answer as JSON.")
why_option = click.option("--why", is_flag=True, help="Give reasons and sources.")
batch_option = click.option(
    "--batch", metavar="FILE", default=None,
    help="Take questions as JSON Lines from FILE (- = standard input); answer in the same order.",
)


def column_option(function: F) -> F:
    """The options that correct how a table is read."""
    function = click.option(
        "--column", "columns", multiple=True, metavar="ROLE=HEADER",
        help="Say which column is which: item, quantity, size, note; "
             "HEADER is a header, letter or number. E.g. item=Description.",
    )(function)
    return click.option("--sheet", metavar="NAME", default=None,
                        help="Read only this sheet of a workbook.")(function)


def parse_columns(columns: Sequence[str]) -> dict[str, str]:
    """``("item=Description",)`` as a mapping; the same role twice is joined."""
    found: dict[str, str] = {}
    for text in columns:
        role, sign, header = text.partition("=")
        role = role.strip().lower()
        if not sign or not role or not header.strip():
            raise BadInput(f'"{text}" says no column.', where="--column",
                           mend="Write ROLE=HEADER, e.g. item=Description.")
        found[role] = f"{found[role]}+{header.strip()}" if role in found else header.strip()
    return found


# --- engines, loaded once and only when needed -----------------------------------------------


@cache
def reference() -> Reference:
    """The graph; tells a person at a terminal when it must first be prepared (some seconds)."""
    from etui.knowledge import is_prepared, load_reference

    if sys.stderr.isatty() and not is_prepared():
        click.echo("Preparing the reference; this happens once after each change of it ...",
                   err=True)
    return load_reference()


@cache
def reader() -> Reader:
    """The reader of lines."""
    from etui.reading import Reader

    return Reader(reference())


@cache
def judge() -> Judge:
    """The judging engine."""
    from etui.judging import Judge

    return Judge(reference())


@cache
def procedure_matcher() -> Callable[[str], tuple[str | None, Sequence[tuple[str, str, float]]]]:
    """Finds the procedure that a text names; needs no reader of lines."""
    from etui.judging.procedure_match import ProcedureMatcher

    matcher = ProcedureMatcher(reference())

    def match(text: str) -> tuple[str | None, Sequence[tuple[str, str, float]]]:
        found = matcher.match(text)
        return found.procedure, found.nearest

    return match


def pattern_id(text: str) -> str:
    """Id of the instrument that a text names, by id, by name or as a line of a list.

    Raises:
        UnknownTerm: With what it may be.
    """
    from etui.commands.cards import nearest

    text = " ".join(text.split())
    patterns = reference().patterns
    if text in patterns:
        return text
    first = reader().read(text).first
    if first.pattern in patterns:
        return str(first.pattern)
    near = tuple((a.id, a.name) for a in first.alternatives[:4])
    raise UnknownTerm(f'"{text[:80]}" names no single instrument.',
                      nearest=near or nearest(reference(), text))


# --- files -------------------------------------------------------------------------------------


def given_file(name: str) -> tuple[bytes | str, str]:
    """(what to read, its name): ``-`` is standard input."""
    if name != "-":
        return name, name
    data = sys.stdin.buffer.read()
    if not data.strip():
        raise BadInput("nothing came in.", where="standard input", mend="Pipe a list into it.")
    return data, "standard input"


def tray_from_file(
    name: str, *, columns: Sequence[str] = (), sheet: str | None = None,
    procedures: Sequence[str] = (), operator: str | None = None, alongside: Sequence[str] = (),
) -> tuple[Tray, Taken]:
    """Read a tray; what the options say overrules or adds to what the file says."""
    from msgspec import structs

    from etui.exchange import open_tray
    from etui.trays.model import Line, Place

    source, shown = given_file(name)
    tray, taken = open_tray(source, name=shown, columns=parse_columns(columns), sheet=sheet,
                            procedures=procedures or None)
    if operator:
        tray = structs.replace(tray, operator=operator)
    if alongside:
        more = tuple(Line(text=t, place=Place(file="--alongside")) for t in alongside)
        tray = structs.replace(tray, kept_alongside=tray.kept_alongside + more)
    return tray, taken


def with_procedures(tray: Tray, file: str) -> Tray:
    """The tray with ids of procedures; a tray must say what it is for.

    Raises:
        BadInput: No procedure is named; the title's nearest procedures are offered.
        UnknownTerm: A name is not in the reference; the nearest are offered.
    """
    from msgspec import structs

    from etui.exchange import resolve_procedures

    match = procedure_matcher()
    if not tray.procedures:
        _, near = match(tray.title)
        names = ", ".join(f"{name} ({id_})" for id_, name, _ in near[:3])
        raise BadInput(
            "the list does not say which procedure the tray is for.", where=file,
            mend=f'Add a line "Procedure: ..." or --procedure NAME, e.g. {names}.' if names
            else 'Add a line "Procedure: ..." or --procedure NAME.',
        )
    return structs.replace(tray, procedures=resolve_procedures(tray.procedures, match, where=file))


def stock_from_file(name: str | None, *, columns: Sequence[str] = ()) -> Stock | None:
    """Read a stock list; None when none is given."""
    if name is None:
        return None
    from etui.exchange import open_stock

    source, shown = given_file(name)
    return open_stock(source, name=shown, columns=parse_columns(columns))[0]


def say_how(taken: Taken) -> None:
    """Tell on standard error how the list was read, where that was a guess."""
    for sentence in taken.how():
        click.echo(f"read: {sentence}", err=True)


def rule_files(names: Iterable[str]) -> tuple[Path, ...]:
    """Rule files that can be read."""
    found = []
    for name in names:
        path = Path(name)
        if not path.is_file():
            raise BadInput("there is no such file.", where=name, mend="Check the path.")
        found.append(path)
    return tuple(found)


# --- output -------------------------------------------------------------------------------------


def to_json(data: object, *, pretty: bool = True) -> str:
    """JSON text; records become objects, keys keep their order."""
    import msgspec

    raw = msgspec.json.encode(data)
    return (msgspec.json.format(raw, indent=2) if pretty else raw).decode()


def out(text: str) -> None:
    """One text to standard output."""
    click.echo(text)


def problem(error: EtuiError) -> dict[str, Any]:
    """An error as one answer in a batch: the same body as over HTTP."""
    body: dict[str, Any] = {"title": error.title, "status": error.status, "detail": error.line}
    if isinstance(error, UnknownTerm):
        body["nearest"] = [{"id": i, "name": n} for i, n in error.nearest]
    return {"error": body}


def run_batch(name: str, answer: Callable[[dict[str, Any]], object]) -> None:
    """Answer JSON Lines in their order, one line each; a bad line gets an error as its answer.

    Raises:
        BadInput: The file cannot be read at all.
    """
    for number, line in _numbered_but_last_blanks(_batch_lines(name)):
        where = f"{name}:{number}"
        try:
            question = json.loads(line)
            if not isinstance(question, dict):
                raise BadInput("the line is not a JSON object.", where=where,
                               mend="Write one object per line.")
            given = answer(question)
        except json.JSONDecodeError as error:
            given = problem(BadInput(
                f"the line is not JSON ({error.msg.lower()}, column {error.colno}).", where=where,
                mend="Write one object per line."))
        except EtuiError as error:
            if not error.where:
                error = type(error)(error.what, where=where, **_rest(error))
            given = problem(error)
        except (RecursionError, ValueError, TypeError, KeyError, AttributeError) as error:
            given = problem(BadInput(
                f"the question cannot be taken ({type(error).__name__}: {error}).", where=where,
                mend="See `etui read --help` for its form."))
        out(to_json(given, pretty=False))


def _numbered_but_last_blanks(lines: Iterable[str]) -> Iterator[tuple[int, str]]:
    """Lines with their numbers; blank lines at the end are no questions."""
    held: list[tuple[int, str]] = []
    for number, line in enumerate(lines, 1):
        held.append((number, line))
        if line.strip():
            yield from held
            held.clear()


def _rest(error: EtuiError) -> dict[str, Any]:
    return {"nearest": error.nearest} if isinstance(error, UnknownTerm) else {"mend": error.mend}


def _batch_lines(name: str) -> Iterator[str]:
    if name == "-":
        yield from _decoded(sys.stdin.buffer)
        return
    try:
        with Path(name).open("rb") as stream:
            yield from _decoded(stream)
    except OSError as error:
        raise BadInput(f"cannot be read ({error.strerror}).", where=name,
                       mend="Check the path.") from error


def _decoded(stream: Any) -> Iterator[str]:
    for raw in stream:
        yield raw.decode("utf-8-sig", "replace")


def wanted_text(question: dict[str, Any], key: str, *, required: bool = True) -> str:
    """The text under *key* of a question.

    Raises:
        BadInput: It is missing or no text.
    """
    value = question.get(key)
    if value is None and not required:
        return ""
    if not isinstance(value, str) or (required and not value.strip()):
        raise BadInput(f'"{key}" is missing or is not text.',
                       mend=f'Give {{"{key}": "..."}}.')
    return value


def term_stream() -> TextIO:
    """Standard error, for progress."""
    return sys.stderr
