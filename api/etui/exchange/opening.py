"""Taking in a tray or a stock from any kind of file, with a record of how it was read."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path

from msgspec import Struct, structs

from etui.errors import BadInput
from etui.exchange import machine
from etui.exchange.columns import Layout
from etui.exchange.heading import Heading
from etui.exchange.source import FileKind, Given, Source, TextLines
from etui.exchange.table import Row, delimited_rows, read_table, sniff_delimiter
from etui.exchange.text import read_text
from etui.trays.model import Line, Stock, Tray

MAX_TRAY_LINES = 20_000
"""A tray has tens of lines and a region's stock thousands; more is some other file."""


class SheetRead(Struct, frozen=True):
    """One table that was read: its sheet (if any), how its columns were taken, its lines."""

    sheet: str | None
    layout: Layout | None
    lines: int


class Taken(Struct, frozen=True):
    """A list as it was taken in, and how, so that a person can see and correct it."""

    heading: Heading
    lines: tuple[Line, ...]
    alongside: tuple[Line, ...] = ()
    kind: FileKind = "text"
    encoding: str | None = None
    tables: tuple[SheetRead, ...] = ()
    notes: tuple[str, ...] = ()

    def how(self) -> tuple[str, ...]:
        """Sentences on how the list was read: columns, sheets, encoding, what was mended."""
        out = []
        for table in self.tables:
            if table.layout is None:
                continue
            head = f"sheet {table.sheet}: " if table.sheet else ""
            columns = "; ".join(str(c) for c in table.layout.columns)
            out.append(f"{head}{columns}")
        if self.encoding and self.encoding not in ("utf-8", "utf-8-sig"):
            out.append(f"encoding {self.encoding}")
        return (*out, *self.notes)


def open_tray(
    source: Given, *, name: str | None = None, columns: Mapping[str, str] | None = None,
    sheet: str | None = None, title: str | None = None,
    procedures: Sequence[str] | None = None,
) -> tuple[Tray, Taken]:
    """Read a tray and say how it was read.

    Args:
        source: A path, or the bytes of a file or of pasted text.
        name: The name to show for bytes; its ending helps to tell CSV from plain text.
        columns: Corrections, role -> header, letter or number of the column.
        sheet: Read only this sheet of a workbook.
        title: Overrules the title in the file.
        procedures: Overrules the procedures named in the file.

    Raises:
        BadInput: With file, line, value and how to mend it.
    """
    given = Source(source, name=name)
    kind = given.kind()
    if kind == "turtle":
        from etui.exchange.turtle import tray_from_turtle

        tray = tray_from_turtle(given)
        taken = Taken(Heading(title=tray.title, procedures=tray.procedures), tray.contents,
                      tray.kept_alongside, kind)
    elif kind == "json":
        tray = machine.tray_from(machine.load_json(given), file=given.name,
                                 fallback_title=_stem(given))
        taken = Taken(Heading(title=tray.title, procedures=tray.procedures), tray.contents,
                      tray.kept_alongside, kind)
    else:
        taken = take_list(given, kind, columns=columns, sheet=sheet)
        tray = Tray(
            title=taken.heading.title or _stem(given),
            procedures=taken.heading.procedures,
            operator=taken.heading.operator,
            kept_alongside=taken.alongside,
            contents=taken.lines,
        )
    if not tray.contents:
        raise BadInput("the list has no lines.", where=given.name, mend="Give a list of items.")
    if len(tray.contents) > MAX_TRAY_LINES:
        raise BadInput(
            f"the list has {len(tray.contents):,} lines; a tray of at most {MAX_TRAY_LINES:,} is "
            "taken.", where=given.name,
            mend="Name one sheet, split the file, or use `etui read --file` for long lists.",
        )
    if title:
        tray = structs.replace(tray, title=title)
    if procedures:
        tray = structs.replace(tray, procedures=tuple(procedures))
    return tray, taken


def read_tray(
    source: Given, *, name: str | None = None, columns: Mapping[str, str] | None = None,
    sheet: str | None = None, title: str | None = None,
    procedures: Sequence[str] | None = None,
) -> Tray:
    """Read a tray; :func:`open_tray` without the record of how it was read."""
    return open_tray(source, name=name, columns=columns, sheet=sheet, title=title,
                     procedures=procedures)[0]


def open_stock(
    source: Given, *, name: str | None = None, columns: Mapping[str, str] | None = None,
    sheet: str | None = None,
) -> tuple[Stock, Taken]:
    """Read a stock list and say how it was read."""
    given = Source(source, name=name)
    kind = given.kind()
    if kind == "turtle":
        from etui.exchange.turtle import stock_from_turtle

        stock = stock_from_turtle(given)
        taken = Taken(Heading(title=stock.title), stock.lines, (), kind)
    elif kind == "json":
        stock = machine.stock_from(machine.load_json(given), file=given.name,
                                   fallback_title=_stem(given))
        taken = Taken(Heading(title=stock.title), stock.lines, (), kind)
    else:
        taken = take_list(given, kind, columns=columns, sheet=sheet)
        stock = Stock(title=taken.heading.title or _stem(given), lines=taken.lines)
    if not stock.lines:
        raise BadInput("the list has no lines.", where=given.name, mend="Give a list of items.")
    return stock, taken


def read_stock(
    source: Given, *, name: str | None = None, columns: Mapping[str, str] | None = None,
    sheet: str | None = None,
) -> Stock:
    """Read a stock list."""
    return open_stock(source, name=name, columns=columns, sheet=sheet)[0]


def iter_lines(
    source: Given, *, name: str | None = None, columns: Mapping[str, str] | None = None,
    sheet: str | None = None,
) -> Iterator[Line]:
    """The lines of a list one by one; text of any length is read in bounded memory."""
    given = Source(source, name=name)
    kind = given.kind()
    if kind == "text":
        _, lines, _ = _stream_text(given, columns)
        yield from lines
    elif kind == "workbook":
        yield from _take_workbook(given, columns, sheet).lines
    else:
        yield from open_tray(source, name=name)[0].contents


def take_list(
    source: Source, kind: FileKind, *, columns: Mapping[str, str] | None = None,
    sheet: str | None = None,
) -> Taken:
    """Take in a text file or a workbook."""
    if kind == "workbook":
        return _take_workbook(source, columns, sheet)
    if sheet:
        raise BadInput("the file has no sheets.", where=source.name, mend="Leave --sheet out.")
    text, lines, rest = _stream_text(source, columns)
    kept = tuple(lines)
    tables = () if rest.layout is None else (SheetRead(None, rest.layout, len(kept)),)
    return Taken(rest.heading, kept, tuple(rest.alongside), "text", text.encoding, tables,
                 (*text.notes(), *([_told_sections(rest.sections)] if rest.sections else [])))


def _told_sections(sections: Sequence[str]) -> str:
    """A note that names the first rows taken for headings: an item must not vanish unseen."""
    more = f" and {len(sections) - 6} more" if len(sections) > 6 else ""
    return "taken for headings: " + "; ".join(sections[:6]) + more


class _Rest(Struct):
    """What a text list says besides its lines; ``alongside`` is complete after iterating."""

    heading: Heading
    alongside: list[Line]
    layout: Layout | None = None
    sections: list[str] = []


def _stream_text(
    source: Source, columns: Mapping[str, str] | None
) -> tuple[TextLines, Iterator[Line], _Rest]:
    text = TextLines(source)
    sample = _sample(text)
    declared = source.suffix in (".csv", ".tsv", ".tab")
    delimiter = "\t" if source.suffix in (".tsv", ".tab") else sniff_delimiter(
        sample, may_be_comma=declared or _comma_header(sample)
    )
    if delimiter is None and (declared or columns):
        delimiter = ","
    if delimiter is None:
        read = read_text(text, file=source.name)
        return text, read.lines, _Rest(read.heading, read.alongside)
    rows: Iterable[Row] = delimited_rows(text, delimiter=delimiter, file=source.name)
    table = read_table(rows, file=source.name, wanted=columns)
    return text, table.lines, _Rest(table.heading, table.alongside, table.layout, table.sections)


def _sample(text: TextLines) -> list[str]:
    out = []
    for number, line in text:
        out.append(line)
        if number >= 60:
            break
    return out


def _comma_header(sample: Sequence[str]) -> bool:
    from etui.exchange.columns import find_header

    rows = [(n, line.split(",")) for n, line in enumerate(sample[:5], 1)]
    found = find_header(rows)
    return found is not None and len(rows[found][1]) > 1


def _take_workbook(
    source: Source, columns: Mapping[str, str] | None, wanted: str | None
) -> Taken:
    from etui.exchange.workbook import fill_merged, heading_rows, read_sheets, sheet_rows

    sheets = read_sheets(source)
    shown = [s for s in sheets if not s.hidden] or list(sheets)
    if wanted:
        chosen = [s for s in sheets if s.name.lower() == wanted.lower()]
        if not chosen:
            names = ", ".join(f'"{s.name}"' for s in sheets)
            raise BadInput(f'there is no sheet "{wanted}".', where=source.name,
                           mend=f"The workbook has {names}.")
        shown = chosen
    heading = Heading()
    lines: list[Line] = []
    alongside: list[Line] = []
    tables: list[SheetRead] = []
    notes: list[str] = []
    headings: list[tuple[str, Heading]] = []
    first_error: BadInput | None = None
    for sheet in shown:
        try:
            table = read_table(sheet_rows(sheet), file=source.name, sheet=sheet.name,
                               wanted=columns)
            if sheet.merged:
                quantity = table.layout.numbers("quantity")
                sheet = fill_merged(sheet, table.layout.numbers("item")[0],
                                    quantity[0] if quantity else None)
                table = read_table(sheet_rows(sheet), file=source.name, sheet=sheet.name,
                                   wanted=columns, headings=heading_rows(sheet))
        except BadInput as error:
            first_error = first_error or error
            continue
        if len(shown) > 1 and table.layout.header_row is None:
            notes.append(f'sheet "{sheet.name}" has no headers and was left out; --sheet takes it')
            continue
        found = tuple(table.lines)
        if not found:
            continue
        headings.append((sheet.name, table.heading))
        lines.extend(found)
        alongside.extend(table.alongside)
        tables.append(SheetRead(sheet.name, table.layout, len(found)))
        notes.extend(sheet.notes)
        if table.sections:
            notes.append(_told_sections(table.sections))
    if not tables:
        if len(shown) > 1 and not wanted and first_error is None:
            names = ", ".join(f'"{s.name}"' for s in shown)
            raise BadInput("no sheet has headers that tell its columns.", where=source.name,
                           mend=f"Name one with --sheet: {names}.")
        raise first_error or BadInput("no sheet holds a list.", where=source.name,
                                      mend="Give a list of items.")
    purposes = {h.procedures for _, h in headings if h.procedures}
    if len(purposes) > 1:
        names = ", ".join(f'"{n}"' for n, _ in headings)
        raise BadInput("its sheets are trays for different procedures.", where=source.name,
                       mend=f"Name one with --sheet: {names}.")
    for _, one in headings:
        heading = Heading(
            title=heading.title or one.title,
            procedures=heading.procedures or one.procedures,
            operator=heading.operator or one.operator,
        )
    if len(tables) > 1:
        notes.insert(0, "read as one list: " + ", ".join(
            f'sheet "{t.sheet}" ({t.lines} lines)' for t in tables) + "; --sheet NAME takes one")
    return Taken(heading, tuple(lines), tuple(alongside), "workbook", None, tuple(tables),
                 tuple(notes))


def _stem(source: Source) -> str:
    return Path(source.name).stem.replace("_", " ").replace("-", " ") or "tray"
