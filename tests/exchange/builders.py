"""Workbooks made for tests, in memory."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Callable
from xml.sax.saxutils import escape

from openpyxl import Workbook

_OFFICE = "urn:oasis:names:tc:opendocument:xmlns:"


def xlsx(fill: Callable[[Workbook], None]) -> bytes:
    """An XLSX filled by *fill*."""
    book = Workbook()
    fill(book)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def archive(parts: dict[str, bytes | str]) -> bytes:
    """A zip archive of these parts, in this order."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as opened:
        for name, content in parts.items():
            opened.writestr(name, content)
    return out.getvalue()


def ods_text(text: str, more: str = "") -> str:
    """One text cell of an ODS sheet."""
    return (f'<table:table-cell office:value-type="string" {more}><text:p>{escape(text)}</text:p>'
            "</table:table-cell>")


def ods_row(*cells: str, repeat: int = 1) -> str:
    """One row of an ODS sheet."""
    return f'<table:table-row table:number-rows-repeated="{repeat}">{"".join(cells)}' \
        "</table:table-row>"


def ods(*rows: str) -> bytes:
    """An ODS with one sheet of these rows."""
    kind = "application/vnd.oasis.opendocument.spreadsheet"
    content = (
        f'<?xml version="1.0"?><office:document-content xmlns:office="{_OFFICE}office:1.0" '
        f'xmlns:table="{_OFFICE}table:1.0" xmlns:text="{_OFFICE}text:1.0"><office:body>'
        f'<office:spreadsheet><table:table table:name="Set">{"".join(rows)}</table:table>'
        "</office:spreadsheet></office:body></office:document-content>"
    )
    manifest = (
        f'<?xml version="1.0"?><manifest:manifest xmlns:manifest="{_OFFICE}manifest:1.0">'
        f'<manifest:file-entry manifest:full-path="/" manifest:media-type="{kind}"/>'
        "</manifest:manifest>"
    )
    return archive({"mimetype": kind, "META-INF/manifest.xml": manifest, "content.xml": content})
