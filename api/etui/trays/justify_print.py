"""The committee document as HTML, PDF, DOCX and plain text."""

from __future__ import annotations

import io
from functools import cache
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined, Template

from etui.trays.justify_blocks import Block, blocks

__all__ = ["as_docx", "as_html", "as_pdf", "as_text"]

_DEEP = (31, 77, 74)
_SOFT = (91, 103, 109)
_WASH = (241, 244, 243)
_INK = (29, 37, 41)


@cache
def _template() -> Template:
    folder = Path(__file__).parent / "templates"
    made = Environment(loader=FileSystemLoader(folder), autoescape=True, undefined=StrictUndefined)
    return made.get_template("justify.html")


def as_html(data: dict[str, Any]) -> bytes:
    """One HTML page that needs nothing else and prints on A4."""
    return _template().render(title=data["title"], blocks=blocks(data)).encode()


def as_text(data: dict[str, Any]) -> str:
    """Plain text in Markdown's manner."""
    out: list[str] = []
    for block in blocks(data):
        if block.kind == "title":
            out += [f"# {block.content}", ""]
        elif block.kind == "note":
            out += [f"*{block.content}*", ""]
        elif block.kind == "heading":
            out += [f"## {block.content}", ""]
        elif block.kind == "text":
            out += [block.content, ""]
        elif block.kind == "list":
            out += [*(f"- {entry}" for entry in block.content), ""]
        else:
            head, *rows = block.content
            out.append("| " + " | ".join(head) + " |")
            out.append("|" + "---|" * len(head))
            out += ["| " + " | ".join(_cell(c) for c in row) + " |" for row in rows]
            out.append("")
    return "\n".join(out)


def _cell(text: str) -> str:
    return text.replace("|", "/").replace("\n", " ")


# -- DOCX ------------------------------------------------------------------------------------------


def as_docx(data: dict[str, Any]) -> bytes:
    """A text document with headings, tables whose header repeats, and page numbers."""
    import docx
    from docx.shared import Mm, Pt, RGBColor

    document = docx.Document()
    section = document.sections[0]
    section.page_width, section.page_height = Mm(210), Mm(297)
    section.left_margin = section.right_margin = Mm(18)
    section.top_margin = section.bottom_margin = Mm(18)
    normal = document.styles["Normal"]
    normal.font.name, normal.font.size = "Liberation Serif", Pt(10.5)
    for name in ("Title", "Heading 1"):
        document.styles[name].font.color.rgb = RGBColor(*_DEEP)
        document.styles[name].font.name = "Liberation Serif"
    document.core_properties.title = data["title"]
    _page_numbers(section)
    for block in blocks(data):
        _docx_block(document, block)
    out = io.BytesIO()
    document.save(out)
    return out.getvalue()


def _docx_block(document: Any, block: Block) -> None:
    if block.kind == "title":
        document.add_heading(block.content, 0)
    elif block.kind == "heading":
        document.add_heading(block.content, 1)
    elif block.kind == "note":
        document.add_paragraph().add_run(block.content).italic = True
    elif block.kind == "text":
        document.add_paragraph(block.content)
    elif block.kind == "list":
        for entry in block.content:
            document.add_paragraph(entry, style="List Bullet")
    else:
        _docx_table(document, block)


def _docx_table(document: Any, block: Block) -> None:
    from docx.oxml import OxmlElement
    from docx.shared import Mm, Pt

    head, *rows = block.content
    shown = block.content if any(head) else rows
    table = document.add_table(rows=0, cols=len(head), style="Table Grid")
    table.autofit = False
    total = sum(block.widths)
    for number, row in enumerate(shown):
        line = table.add_row()
        for cell, text, width in zip(line.cells, row, block.widths, strict=True):
            cell.width = Mm(174 * width / total)
            cell.text = text
            for paragraph in cell.paragraphs:
                paragraph.paragraph_format.space_after = Pt(1)
                for run in paragraph.runs:
                    run.font.size = Pt(9)
                    run.bold = number == 0 and any(head)
        if number == 0 and any(head):
            repeat = OxmlElement("w:tblHeader")
            line._tr.get_or_add_trPr().append(repeat)
    document.add_paragraph()


def _page_numbers(section: Any) -> None:
    from docx.oxml import OxmlElement
    from docx.oxml.ns import qn

    run = section.footer.paragraphs[0].add_run()
    for kind, text in (("begin", None), (None, "PAGE"), ("end", None)):
        element = OxmlElement("w:fldChar" if kind else "w:instrText")
        if kind:
            element.set(qn("w:fldCharType"), kind)
        else:
            element.text = text
        run._r.append(element)


# -- PDF -------------------------------------------------------------------------------------------

_PLAIN = {
    "–": "-", "—": "-", "’": "'", "‘": "'", "“": '"', "”": '"', "…": "...", "≥": ">=", "≤": "<=",
    "→": "->", "•": "-", "″": '"', "′": "'", "\u00a0": " ",
}  # fmt: skip


def _latin(text: str) -> str:
    """Text in the signs of the built-in fonts; what they lack is written with plain ones."""
    for sign, plain in _PLAIN.items():
        text = text.replace(sign, plain)
    return text.encode("latin-1", "replace").decode("latin-1")


def as_pdf(data: dict[str, Any]) -> bytes:
    """A4 pages in the built-in fonts, numbered, with the title and the limits on every page."""
    from fpdf import FPDF
    from fpdf.enums import TableBordersLayout, TableCellFillMode
    from fpdf.fonts import FontFace

    title = _latin(data["title"])

    class Document(FPDF):
        def footer(self) -> None:
            self.set_y(-13)
            self.set_font("Times", "I", 8)
            self.set_text_color(*_SOFT)
            self.cell(0, 4, title[:110])
            self.set_x(self.l_margin)
            self.cell(0, 4, f"{self.page_no()} / {{nb}}", align="R")

    pdf = Document(format="A4")
    pdf.set_title(data["title"])
    pdf.set_margins(17, 16)
    pdf.set_auto_page_break(True, margin=18)
    pdf.add_page()
    for block in blocks(data):
        if block.kind == "title":
            pdf.set_font("Times", "B", 20)
            pdf.set_text_color(*_DEEP)
            pdf.multi_cell(0, 9, _latin(block.content), new_x="LMARGIN", new_y="NEXT", align="L")
        elif block.kind == "note":
            pdf.set_font("Times", "I", 11)
            pdf.set_text_color(*_SOFT)
            pdf.cell(0, 7, _latin(block.content), new_x="LMARGIN", new_y="NEXT")
            pdf.ln(1)
        elif block.kind == "heading":
            if pdf.will_page_break(32):
                pdf.add_page()
            pdf.ln(4)
            pdf.set_font("Times", "B", 13)
            pdf.set_text_color(*_DEEP)
            pdf.cell(0, 7, _latin(block.content), new_x="LMARGIN", new_y="NEXT", border="B")
            pdf.ln(1.5)
        elif block.kind == "text":
            _pdf_text(pdf, block.content, 10)
            pdf.ln(1.5)
        elif block.kind == "list":
            for entry in block.content:
                _pdf_text(pdf, f"- {entry}", 9.5)
        else:
            head, *rows = block.content
            pdf.set_font("Times", "", 9)
            pdf.set_text_color(*_INK)
            pdf.set_draw_color(200, 208, 210)
            bold = FontFace(emphasis="BOLD", color=_SOFT)
            with pdf.table(
                col_widths=block.widths,
                line_height=4.3,
                text_align="LEFT",
                v_align="T",
                padding=(1, 2, 1, 0.5),
                borders_layout=TableBordersLayout.HORIZONTAL_LINES,
                first_row_as_headings=any(head),
                headings_style=bold,
                cell_fill_color=_WASH,
                cell_fill_mode=TableCellFillMode.NONE if any(head) else TableCellFillMode.ROWS,
            ) as table:
                for row in block.content if any(head) else rows:
                    line = table.row()
                    for text in row:
                        line.cell(_latin(text))
            pdf.ln(1)
    return bytes(pdf.output())


def _pdf_text(pdf: Any, text: str, size: float) -> None:
    pdf.set_font("Times", "", size)
    pdf.set_text_color(*_INK)
    pdf.multi_cell(0, size * 0.5, _latin(text), new_x="LMARGIN", new_y="NEXT", align="L")
