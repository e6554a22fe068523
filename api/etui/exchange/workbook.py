"""Workbooks (XLSX, ODS, XLS): guarded against bombs, then read sheet by sheet.

Cells are read as they show: a formula gives the value that was saved with it and is never
computed.  The guard looks at what the archive would unpack to before anything is parsed.
"""

from __future__ import annotations

import io
import re
import zipfile
import zlib
from collections.abc import Iterator, Sequence
from typing import Any

from msgspec import Struct

from etui.errors import BadInput
from etui.exchange.source import Source, clean_text
from etui.exchange.table import Row

MAX_UNPACKED = 150 * 1024 * 1024
"""Bytes; a list of 100,000 rows unpacks to about a quarter of this."""
MAX_RATIO = 400
"""Unpacked to packed; spreadsheets of real text reach about 30."""
MAX_ENTRIES = 2_000
MAX_CELLS = 2_000_000
_CHUNK = 1 << 20
_MEND = "Save the list again as CSV or as a new workbook."


class Sheet(Struct, frozen=True):
    """One sheet: its name, its rows as text, the ranges that are merged, what was noted."""

    name: str
    rows: tuple[Row, ...]
    merged: tuple[tuple[tuple[int, int], tuple[int, int]], ...] = ()
    hidden: bool = False
    notes: tuple[str, ...] = ()


def read_sheets(source: Source) -> tuple[Sheet, ...]:
    """All sheets of a workbook in their order, empty ones left out.

    Raises:
        BadInput: No workbook, locked by a password, a bomb, or no sheet with words.
    """
    data = source.all_bytes()
    if data.startswith(b"PK"):
        _guard(data, source.name)
    # The reader is compiled code and takes time to load: only workbooks pay for it.
    import python_calamine as calamine

    try:
        book = calamine.CalamineWorkbook.from_object(io.BytesIO(data))
        sheets = [_sheet(book, meta, source.name) for meta in book.sheets_metadata
                  if "Work" in str(meta.typ)]
    except calamine.PasswordError as error:
        raise BadInput("the workbook is locked by a password.", where=source.name,
                       mend="Save it without a password.") from error
    except (calamine.CalamineError, OSError, ValueError) as error:
        raise BadInput("the workbook is broken and cannot be read.", where=source.name,
                       mend=_MEND) from error
    except BadInput:
        raise
    except BaseException as error:  # a panic of the compiled reader is no Exception
        if isinstance(error, KeyboardInterrupt | SystemExit | MemoryError):
            raise
        raise BadInput("the workbook is broken and cannot be read.", where=source.name,
                       mend=_MEND) from error
    kept = tuple(s for s in sheets if any(any(c for c in cells) for _, cells in s.rows))
    if not kept:
        raise BadInput("no sheet of the workbook holds anything.", where=source.name,
                       mend="Give a list of items.")
    return kept


def _sheet(book: Any, meta: Any, file: str) -> Sheet:
    sheet = book.get_sheet_by_name(meta.name)
    rows: list[list[str]] = []
    if sheet.height and sheet.width:
        if sheet.height * sheet.width > MAX_CELLS:
            raise _too_wide(meta.name, sheet.height, sheet.width, file)
        rows = [[_text(cell) for cell in row] for row in sheet.to_python(skip_empty_area=False)]
    merged = tuple(sheet.merged_cell_ranges or ())
    numbered = tuple((n, tuple(cells)) for n, cells in enumerate(rows, 1))
    return Sheet(
        name=meta.name, rows=numbered, merged=merged,
        hidden=not str(meta.visible).endswith(".Visible"),
    )


def _text(cell: Any) -> str:
    if cell is None or cell == "":
        return ""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float) and cell == int(cell) and abs(cell) < 1e15:
        return str(int(cell))
    return clean_text(str(cell)).strip()


def fill_merged(sheet: Sheet, item_at: int, quantity_at: int | None) -> Sheet:
    """Carry the text of a cell that is merged over several rows into each row that needs it.

    An item over several rows is named in each row that says more (a size, a count).  A count
    over several rows belongs to none of them alone: it is taken as not stated, with a note.
    """
    rows = {number: list(cells) for number, cells in sheet.rows}
    notes = list(sheet.notes)
    for (top, left), (bottom, right) in sheet.merged:
        if bottom == top:
            continue
        if left <= item_at <= right:
            text = _get(rows, top + 1, left)
            for number in range(top + 2, bottom + 2):
                cells = rows.get(number)
                others = [c for i, c in enumerate(cells or []) if c and not left <= i <= right]
                if cells is not None and text and others:
                    _put(cells, item_at, text)
        elif quantity_at is not None and left <= quantity_at <= right:
            named = [n for n in range(top + 1, bottom + 2) if _get(rows, n, item_at)]
            if len(named) > 1 and _get(rows, top + 1, left):
                _put(rows[top + 1], quantity_at, "")
                notes.append(
                    f'{sheet.name}, rows {top + 1} to {bottom + 1}: one quantity is merged over '
                    "several items and is taken as not stated; write one in each row"
                )
    return Sheet(
        name=sheet.name, rows=tuple((n, tuple(c)) for n, c in sorted(rows.items())),
        merged=sheet.merged, hidden=sheet.hidden, notes=tuple(notes),
    )


def heading_rows(sheet: Sheet) -> frozenset[int]:
    """Numbers of rows whose cells are merged over three columns or more, or over all in use."""
    wide = max((len(cells) for _, cells in sheet.rows), default=0)
    return frozenset(
        top + 1 for (top, left), (bottom, right) in sheet.merged
        if top == bottom and (right - left >= 2 or right - left + 1 >= wide > 1)
    )


def _get(rows: dict[int, list[str]], number: int, index: int) -> str:
    cells = rows.get(number, [])
    return cells[index] if index < len(cells) else ""


def _put(cells: list[str], index: int, text: str) -> None:
    cells.extend([""] * (index + 1 - len(cells)))
    cells[index] = text


# --- the guard -----------------------------------------------------------------------------


def _guard(data: bytes, name: str) -> None:
    """Refuse an archive that would unpack to too much, before any of it is parsed.

    The sizes written in an archive can lie, so the contents are unpacked once in small pieces
    and counted.
    """
    try:
        archive = zipfile.ZipFile(io.BytesIO(data))
        entries = archive.infolist()
    except (zipfile.BadZipFile, ValueError, OSError) as error:
        raise BadInput("the workbook is broken and cannot be opened.", where=name,
                       mend=_MEND) from error
    names = {entry.filename for entry in entries}
    if "word/document.xml" in names or any(n.startswith("ppt/") for n in names):
        raise BadInput("this is a text document or slides, not a workbook.", where=name,
                       mend="Copy the list into a .txt file or a spreadsheet.")
    if not ({"xl/workbook.xml", "content.xml", "xl/workbook.bin"} & names):
        raise BadInput("this is an archive, not a workbook.", where=name,
                       mend="Unpack it and give the list inside.")
    if len(entries) > MAX_ENTRIES or sum(e.file_size for e in entries) > MAX_UNPACKED:
        raise _bomb(name)
    total = 0
    for entry in entries:
        if entry.flag_bits & 1:
            raise BadInput("the workbook is locked by a password.", where=name,
                           mend="Save it without a password.")
        counter = _CellCounter(entry.filename)
        size = 0
        for piece in _unpack(data, entry, name):
            size += len(piece)
            if total + size > MAX_UNPACKED or (
                size > 8 * _CHUNK and size > MAX_RATIO * max(entry.compress_size, 1)
            ):
                raise _bomb(name)
            counter.feed(piece)
            if counter.area > MAX_CELLS:
                raise _too_wide(entry.filename, counter.rows, counter.columns, name)
        counter.feed(b"", last=True)
        if counter.area > MAX_CELLS:
            raise _too_wide(entry.filename, counter.rows, counter.columns, name)
        total += size


def _unpack(data: bytes, entry: zipfile.ZipInfo, name: str) -> Iterator[bytes]:
    start = entry.header_offset
    head = data[start:start + 30]
    if len(head) < 30 or head[:4] != b"PK\x03\x04":
        raise BadInput("the workbook is broken and cannot be opened.", where=name, mend=_MEND)
    start += 30 + int.from_bytes(head[26:28], "little") + int.from_bytes(head[28:30], "little")
    packed = memoryview(data)[start:start + entry.compress_size]
    if entry.compress_type == zipfile.ZIP_STORED:
        yield bytes(packed)
        return
    if entry.compress_type != zipfile.ZIP_DEFLATED:
        raise BadInput("the workbook is packed in an unusual way.", where=name, mend=_MEND)
    unpacker = zlib.decompressobj(-15)
    try:
        piece = unpacker.decompress(packed, _CHUNK)
        while piece:
            yield piece
            piece = unpacker.decompress(unpacker.unconsumed_tail, _CHUNK)
    except zlib.error as error:
        raise BadInput("the workbook is broken and cannot be opened.", where=name,
                       mend=_MEND) from error


class _CellCounter:
    """Counts how large a grid the cells of one part of an archive would span.

    A sheet is held as a full grid, so two cells in far corners are as harmful as a million.
    Only cells with contents count: programs format whole columns that hold nothing.
    """

    _XLSX = re.compile(
        rb"<(?:\w+:)?row\b([^>]*)>|<(?:\w+:)?c\b([^>]*?)(?<!/)>\s*<(?!/)|<(?:\w+:)?c\b[^>]*/>"
    )
    _ODS = re.compile(rb"<table:table-row\b([^>]*)>|<table:table-cell\b([^>]*?)(/?)>|"
                      rb"</table:table-row>|<table:table\b")
    _REPEAT = re.compile(rb"number-(?:rows|columns)-repeated=[\"'](\d+)")
    _AT = re.compile(rb"\br=[\"']([A-Z]{0,3})(\d{1,7})[\"']")

    def __init__(self, filename: str) -> None:
        self._kind = "ods" if filename == "content.xml" else (
            "xlsx" if "worksheets/" in filename else "")
        self._rest = b""
        self.rows = self.columns = self.area = 0
        self._row_repeat, self._at, self._width, self._row = 1, 0, 0, 0

    def feed(self, piece: bytes, *, last: bool = False) -> None:
        if not self._kind:
            return
        text = self._rest + piece
        cut = max(text.rfind(b"<c"), text.rfind(b"<row"), text.rfind(b"<table:"))
        cut = cut if not last and cut > 0 and len(text) - cut < 65_536 else len(text)
        self._rest, text = text[cut:], text[:cut]
        if self._kind == "xlsx":
            for match in self._XLSX.finditer(text):
                self._xlsx(match)
            self.area = self.rows * self.columns
        else:
            for match in self._ODS.finditer(text):
                self._ods(match)

    def _xlsx(self, match: re.Match[bytes]) -> None:
        if match[1] is not None:
            found = self._AT.search(match[1])
            self._row, self._at = int(found[2]) if found else self._row + 1, 0
            return
        self._at += 1
        if match[2] is None:
            return
        row = self._row
        found = self._AT.search(match[2])
        if found and found[1]:
            self._at = 0
            for letter in found[1]:
                self._at = self._at * 26 + letter - 64
            row = int(found[2])
        self.rows, self.columns = max(self.rows, row), max(self.columns, self._at)

    def _ods(self, match: re.Match[bytes]) -> None:
        tag = match[0]
        if tag.startswith(b"<table:table-row"):
            self._row_repeat, self._at, self._width = self._repeat(match[1]), 0, 0
        elif tag.startswith(b"<table:table-cell"):
            repeat = self._repeat(match[2])
            self._at += repeat
            if b"value-type" in match[2]:
                self._width = self._at
        elif tag.startswith(b"</table:table-row"):
            if self._width:
                self.rows += self._row_repeat
                self.columns = max(self.columns, self._width)
                self.area = self.rows * self.columns
        else:
            self.rows = self.columns = 0

    def _repeat(self, attributes: bytes) -> int:
        found = self._REPEAT.search(attributes)
        return int(found[1]) if found else 1


def _bomb(name: str) -> BadInput:
    return BadInput(
        "the workbook would unpack to far more than a list can need, so it is not opened.",
        where=name, mend=_MEND,
    )


def _too_wide(sheet: str, rows: int, columns: int, name: str) -> BadInput:
    return BadInput(
        f"{sheet} spans {rows:,} rows by {columns:,} columns; {MAX_CELLS:,} cells are taken.",
        where=name, mend="Delete stray cells far from the list, or save it as CSV.",
    )


def sheet_rows(sheet: Sheet) -> Sequence[Row]:
    """The rows of a sheet that hold anything."""
    return [row for row in sheet.rows if any(row[1])]
