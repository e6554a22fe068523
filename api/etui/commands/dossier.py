"""What a committee asks about a tray: why each item is there, what backs it up, what was left out.

:func:`dossier` gathers it as plain data; the ``as_*`` functions set it as a document.
"""

from __future__ import annotations

import io
from collections.abc import Iterable
from html import escape
from typing import TYPE_CHECKING, Any

from etui.commands.cards import name_of
from etui.knowledge.model import GRADES, Reference
from etui.trays.report import LIMITS

if TYPE_CHECKING:
    from etui.trays.check import Checked


def dossier(done: Checked, reference: Reference) -> dict[str, Any]:
    """Every item with the steps it serves, every step with what serves and what backs it up."""
    report = done.report
    serves: dict[str, list[dict[str, Any]]] = {}
    steps: list[dict[str, Any]] = []
    cited: set[str] = set()
    for course in done.situation.courses:
        for step in course.steps:
            ways = sorted(
                (w for w in course.covers[step.id].ways if w.usable and not w.lead.beside),
                key=lambda w: (GRADES.index(w.grade), w.pattern))
            for way in ways:
                for pattern in way.patterns:
                    serves.setdefault(pattern, []).append(
                        {"step": step.id, "name": step.name, "grade": way.grade,
                         "need": step.need, "with": [name_of(reference, p) for p in way.patterns
                                                     if p != pattern]})
            patterns = list(dict.fromkeys(w.pattern for w in ways))
            for judgement in step.judgements:
                if judgement.subject in patterns and judgement.source:
                    cited.add(judgement.source)
            steps.append({
                "id": step.id, "name": step.name, "need": step.need,
                "procedure": course.procedure.name,
                "by": name_of(reference, patterns[0]) if patterns else None,
                "grade": ways[0].grade if ways else None,
                "backed_by": [name_of(reference, p) for p in patterns[1:]],
            })
    items = []
    on_tray = len(done.situation.tray.contents)
    for line in report.readings[:on_tray]:
        kinds = {i.kind for i in line.reading.items} if line.reading else set()
        if kinds == {"not-an-item"}:
            continue
        found = [i.pattern for i in line.reading.items if i.pattern] if line.reading else []
        here = {e["step"]: e for p in found for e in serves.get(str(p), [])}
        items.append({
            "line": line.text, "count": line.qty, "place": str(line.place),
            "read_as": [name_of(reference, str(p)) for p in found],
            "understood": not kinds & {"unknown", "ambiguous"}, "serves": list(here.values()),
        })
    return {
        "title": report.title, "verdict": report.verdict,
        "kept_alongside": [line.text for line in done.situation.tray.kept_alongside],
        "ways": [r.name for r in report.routes if r.advised],
        "procedures": [name_of(reference, p) for p in report.procedures],
        "items": items, "steps": steps,
        "findings": [{"severity": f.severity, "text": f.text, "fix": f.fix}
                     for f in report.findings],
        "left_out": [
            {"id": r.subject, "name": name_of(reference, r.subject), "because": r.because}
            for p in report.procedures for r in reference.procedures[p].not_wanted
        ],
        "sources": [
            {"id": s, "title": reference.sources[s].title,
             "address": reference.sources[s].address}
            for s in sorted(cited) if s in reference.sources
        ],
        "limits": LIMITS,
    }


Block = tuple[str, Any]
"""(kind, content): ("title"|"heading"|"text", str), ("list", [str]), ("table", [header, *rows])."""


def blocks(data: dict[str, Any]) -> list[Block]:
    """The document as blocks, the same for every form."""
    out: list[Block] = [
        ("title", f"{data['title']}: why each item is there"),
        ("text", f"For: {'; '.join(data['procedures'])}. Readiness: "
                 f"{data['verdict'].replace('-', ' ')}."
                 + (f" Way judged: {'; '.join(data['ways'])}." if data["ways"] else "")
                 + (f" Kept alongside: {'; '.join(data['kept_alongside'])}."
                    if data["kept_alongside"] else "")),
        ("text", data["limits"]),
        ("heading", "Items"),
        ("table", [["Count", "As written", "Serves"], *(
            ["" if i["count"] is None else str(i["count"]), i["line"], _served(i)]
            for i in data["items"])]),
        ("heading", "Steps"),
        ("table", [["Step", "Need", "Done with", "Backed up by"], *(
            [s["name"], s["need"],
             f"{s['by']} ({s['grade']})" if s["by"] else "nothing on the tray",
             "; ".join(s["backed_by"][:4]) or "nothing"] for s in data["steps"])]),
    ]
    if data["findings"]:
        out += [("heading", "Findings"), ("list", [
            f"{f['text']} {f['fix']}".strip() for f in data["findings"]])]
    if data["left_out"]:
        out += [("heading", "Left out, and why"), ("list", [
            f"{x['name']}: {x['because']}" for x in data["left_out"]])]
    if data["sources"]:
        out += [("heading", "Sources of the grades"), ("list", [
            f"{s['title']}{' ' + s['address'] if s['address'] else ''}"
            for s in data["sources"]])]
    return out


def _served(item: dict[str, Any]) -> str:
    if not item["serves"]:
        return "no step of the way judged" if item["understood"] else "not understood, not counted"
    shown = [f"{s['name']} ({s['grade']})" for s in item["serves"][:5]]
    more = len(item["serves"]) - len(shown)
    return "; ".join(shown) + (f"; and {more} more" if more > 0 else "")


def as_text(data: dict[str, Any]) -> str:
    """Plain text in Markdown's manner."""
    out: list[str] = []
    for kind, content in blocks(data):
        if kind == "title":
            out += [f"# {content}", ""]
        elif kind == "heading":
            out += [f"## {content}", ""]
        elif kind == "text":
            out += [content, ""]
        elif kind == "list":
            out += [*(f"- {x}" for x in content), ""]
        else:
            out.append("| " + " | ".join(content[0]) + " |")
            out.append("|" + "---|" * len(content[0]))
            out += ["| " + " | ".join(c.replace("|", "/") for c in row) + " |"
                    for row in content[1:]]
            out.append("")
    return "\n".join(out)


_STYLE = (
    "body{font:16px/1.5 serif;max-width:60rem;margin:2rem auto;padding:0 1rem;color:#222}"
    "table{border-collapse:collapse;width:100%}th,td{text-align:left;vertical-align:top;"
    "border-bottom:1px solid #bbb;padding:.3rem .6rem .3rem 0}"
)


def as_html(data: dict[str, Any]) -> bytes:
    """One HTML page that needs nothing else."""
    return (f'<!doctype html><html lang="en"><head><meta charset="utf-8">'
            f"<title>{escape(data['title'])}</title><style>{_STYLE}</style></head><body>"
            f"{_html_body(data)}</body></html>\n").encode()


def _html_body(data: dict[str, Any]) -> str:
    tags = {"title": "h1", "heading": "h2", "text": "p"}
    out: list[str] = []
    for kind, content in blocks(data):
        if kind in tags:
            out.append(f"<{tags[kind]}>{escape(content)}</{tags[kind]}>")
        elif kind == "list":
            out.append("<ul>" + "".join(f"<li>{escape(x)}</li>" for x in content) + "</ul>")
        else:
            head, *rows = content
            out.append("<table><thead><tr>" + _cells("th", head) + "</tr></thead><tbody>" + "".join(
                f"<tr>{_cells('td', row)}</tr>" for row in rows) + "</tbody></table>")
    return "".join(out)


def _cells(tag: str, cells: Iterable[str]) -> str:
    return "".join(f"<{tag}>{escape(c)}</{tag}>" for c in cells)


def as_docx(data: dict[str, Any]) -> bytes:
    """A text document."""
    import docx

    document = docx.Document()
    for kind, content in blocks(data):
        if kind == "title":
            document.add_heading(content, 0)
        elif kind == "heading":
            document.add_heading(content, 1)
        elif kind == "text":
            document.add_paragraph(content)
        elif kind == "list":
            for text in content:
                document.add_paragraph(text, style="List Bullet")
        else:
            table = document.add_table(rows=0, cols=len(content[0]), style="Table Grid")
            for row in content:
                for cell, text in zip(table.add_row().cells, row, strict=True):
                    cell.text = text
    out = io.BytesIO()
    document.save(out)
    return out.getvalue()


def as_pdf(data: dict[str, Any]) -> bytes:
    """A PDF in its built-in fonts; signs that these lack are written with plain ones."""
    from fpdf import FPDF

    pdf = FPDF(format="A4")
    pdf.set_title(data["title"])
    pdf.set_auto_page_break(True, margin=18)
    pdf.add_page()
    for kind, content in blocks(data):
        if kind in ("title", "heading"):
            pdf.set_font("Times", "B", 18 if kind == "title" else 13)
            pdf.multi_cell(0, 8, _latin(content), new_x="LMARGIN", new_y="NEXT")
        elif kind == "text":
            pdf.set_font("Times", "", 11)
            pdf.multi_cell(0, 5.5, _latin(content), new_x="LMARGIN", new_y="NEXT")
            pdf.ln(1.5)
        elif kind == "list":
            pdf.set_font("Times", "", 10)
            for text in content:
                pdf.multi_cell(0, 5, _latin(f"- {text}"), new_x="LMARGIN", new_y="NEXT")
        else:
            pdf.set_font("Times", "", 9)
            widths = (2, 6, 10) if len(content[0]) == 3 else (6, 3, 5, 6)
            with pdf.table(col_widths=widths, line_height=4.6) as table:
                for row in content:
                    line = table.row()
                    for text in row:
                        line.cell(_latin(text))
    return bytes(pdf.output())


_PLAIN = {"–": "-", "—": "-", "’": "'", "‘": "'", "“": '"', "”": '"', "…": "...", "≥": ">=",
          "≤": "<=", "→": "->", "•": "-", "″": '"', "′": "'"}


def _latin(text: str) -> str:
    for sign, plain in _PLAIN.items():
        text = text.replace(sign, plain)
    return text.encode("latin-1", "replace").decode("latin-1")
