"""Files in and out: trays and stock as people keep them.

``read_tray`` and ``read_stock`` take CSV, TSV, XLSX, ODS, plain or pasted text, JSON (the machine
contract) and Turtle, tell the encoding and the columns by themselves, and keep every line as it
was written together with its file, sheet and row.  ``open_tray`` and ``open_stock`` also say how
the file was read, so that a person can correct it.  Whatever cannot be taken is a
:class:`~etui.errors.BadInput` of one line: where, what, how to mend.
"""

from etui.exchange.columns import Column, Layout
from etui.exchange.machine import stock_data, stock_from, tray_data, tray_from
from etui.exchange.opening import (
    SheetRead,
    Taken,
    iter_lines,
    open_stock,
    open_tray,
    read_stock,
    read_tray,
)
from etui.exchange.procedures import resolve_procedures
from etui.exchange.writing import (
    FORMATS,
    WriteFormat,
    csv_bytes,
    safe_text,
    tray_bytes,
    write_tray,
    xlsx_bytes,
)

__all__ = [
    "FORMATS",
    "Column",
    "Layout",
    "SheetRead",
    "Taken",
    "WriteFormat",
    "csv_bytes",
    "iter_lines",
    "open_stock",
    "open_tray",
    "read_stock",
    "read_tray",
    "resolve_procedures",
    "safe_text",
    "stock_data",
    "stock_from",
    "tray_bytes",
    "tray_data",
    "tray_from",
    "write_tray",
    "xlsx_bytes",
]
