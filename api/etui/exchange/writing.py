"""Writing lists out: CSV, XLSX, TXT, JSON, Turtle.  No cell ever becomes a formula."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Literal

from etui.errors import BadInput
from etui.exchange.machine import encode, tray_data
from etui.exchange.source import clean_text
from etui.trays.model import Tray

WriteFormat = Literal["csv", "xlsx", "txt", "json", "turtle"]
FORMATS: dict[str, WriteFormat] = {
    ".csv": "csv", ".xlsx": "xlsx", ".txt": "txt", ".json": "json", ".ttl": "turtle",
}
_STARTS_FORMULA = ("=", "+", "-", "@", "\t", "\r")
Cell = str | int | None


def safe_text(text: str) -> str:
    """Text that no spreadsheet program takes for a formula, and without control signs."""
    clean = clean_text(text)
    return f"'{clean}" if clean.lstrip().startswith(_STARTS_FORMULA) else clean


def csv_bytes(header: Sequence[str], rows: Iterable[Sequence[Cell]]) -> bytes:
    """A CSV file with a byte-order mark, so that spreadsheet programs see that it is UTF-8."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(header)
    for row in rows:
        writer.writerow([safe_text(c) if isinstance(c, str) else "" if c is None else c
                         for c in row])
    return b"\xef\xbb\xbf" + out.getvalue().encode()


def xlsx_bytes(
    title: str, header: Sequence[str], rows: Iterable[Sequence[Cell]],
    *, above: Sequence[tuple[str, str]] = (),
) -> bytes:
    """A workbook with one sheet; every text is stored as text."""
    from openpyxl import Workbook

    book = Workbook(write_only=True)
    sheet = book.create_sheet("".join(c for c in title if c not in "[]:*?/\\'")[:31] or "List")
    for key, value in above:
        sheet.append(_text_cells(sheet, (key, value)))
    if above:
        sheet.append([])
    sheet.append(_text_cells(sheet, header))
    for row in rows:
        sheet.append(_text_cells(sheet, row))
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _text_cells(sheet: object, cells: Sequence[Cell]) -> list[object]:
    from openpyxl.cell import WriteOnlyCell

    made: list[object] = []
    for cell in cells:
        if not isinstance(cell, str):
            made.append(cell)
            continue
        one = WriteOnlyCell(sheet, value=clean_text(cell))
        # The library makes a formula of any text that begins with "=": say that it is text.
        one.data_type = "s"
        made.append(one)
    return made


def tray_rows(tray: Tray) -> list[tuple[Cell, Cell]]:
    """Quantity and item of each line."""
    return [(line.qty, line.text) for line in tray.contents]


def _above(tray: Tray) -> list[tuple[str, str]]:
    above = [("Tray", tray.title)]
    if tray.procedures:
        above.append(("Procedures", "; ".join(tray.procedures)))
    if tray.operator:
        above.append(("Operator", tray.operator))
    if tray.kept_alongside:
        above.append(("Kept alongside", "; ".join(line.text for line in tray.kept_alongside)))
    return above


def tray_bytes(tray: Tray, kind: WriteFormat) -> bytes:
    """The tray as a file of this kind; it reads back as the same tray."""
    if kind == "json":
        return encode(tray_data(tray))
    if kind == "turtle":
        from etui.exchange.turtle import tray_turtle

        return tray_turtle(tray)
    if kind == "xlsx":
        return xlsx_bytes(tray.title, ("Quantity", "Item"), tray_rows(tray), above=_above(tray))
    if kind == "csv":
        out = io.StringIO()
        writer = csv.writer(out, lineterminator="\r\n")
        for key, value in _above(tray):
            writer.writerow([key, safe_text(value)])
        writer.writerow([])
        return b"\xef\xbb\xbf" + out.getvalue().encode() + csv_bytes(
            ("Quantity", "Item"), tray_rows(tray)).removeprefix(b"\xef\xbb\xbf")
    lines = [f"{key}: {clean_text(value)}" for key, value in _above(tray)]
    lines += ["", "Contents:"]
    lines += [f"{'' if q is None else f'{q} x '}{clean_text(str(t))}" for q, t in tray_rows(tray)]
    return ("\n".join(lines) + "\n").encode()


def write_tray(tray: Tray, path: Path, *, overwrite: bool = False) -> None:
    """Write a tray to *path*; its ending says the kind.

    Raises:
        BadInput: An unknown ending, an existing file, or a place that cannot be written.
    """
    kind = FORMATS.get(path.suffix.lower())
    if kind is None:
        raise BadInput(f'the ending "{path.suffix}" says no kind of file.', where=str(path),
                       mend=f"Use one of {', '.join(FORMATS)}.")
    if path.exists() and not overwrite:
        raise BadInput("the file is there already and is not overwritten.", where=str(path),
                       mend="Give another name, or --force.")
    data = tray_bytes(tray, kind)
    try:
        path.write_bytes(data)
    except OSError as error:
        raise BadInput(f"cannot be written ({error.strerror}).", where=str(path),
                       mend="Check folder and rights.") from error
