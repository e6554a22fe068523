"""Plain pages for the terminal: calm, wrapped to the width, readable without colour."""

from __future__ import annotations

import shutil
import textwrap
from collections.abc import Iterable, Sequence

import click


def width() -> int:
    """Columns to use: the terminal's, but no longer a line than is good to read."""
    return max(40, min(shutil.get_terminal_size((88, 24)).columns, 100))


class Page:
    """A page that grows line by line; :meth:`show` prints it."""

    def __init__(self) -> None:
        self._lines: list[str] = []
        self._width = width()

    def title(self, text: str) -> None:
        """The first line, set off by a rule."""
        for line in textwrap.wrap(text, self._width) or [""]:
            self._lines.append(click.style(line, bold=True))
        self._lines.append("-" * min(self._width, max(len(text), 8)))

    def heading(self, text: str) -> None:
        """A heading with space above."""
        if self._lines and self._lines[-1]:
            self._lines.append("")
        self._lines.append(click.style(text, bold=True))

    def text(self, text: str, *, indent: int = 0) -> None:
        """A paragraph."""
        lead = " " * indent
        self._lines += textwrap.wrap(
            text, self._width, initial_indent=lead, subsequent_indent=lead,
            break_on_hyphens=False) or [""]

    def item(self, text: str, *, mark: str = "-", indent: int = 2) -> None:
        """A list item with a hanging indent."""
        lead = " " * indent + mark + " "
        self._lines += textwrap.wrap(
            text, self._width, initial_indent=lead, subsequent_indent=" " * len(lead),
            break_on_hyphens=False)

    def facts(self, pairs: Iterable[tuple[str, str]], *, indent: int = 2) -> None:
        """Names and values in two columns; empty values are left out."""
        kept = [(k, v) for k, v in pairs if v]
        room = min(max((len(k) for k, _ in kept), default=0), 22) + 2
        for key, value in kept:
            lead = " " * indent + key.ljust(room)
            self._lines += textwrap.wrap(
                value, self._width, initial_indent=lead, subsequent_indent=" " * (indent + room),
                break_on_hyphens=False)

    def table(self, rows: Sequence[Sequence[str]], *, header: Sequence[str] = (),
              indent: int = 0) -> None:
        """Columns as wide as their contents; the last one wraps."""
        if not rows:
            return
        every = [header, *rows] if header else list(rows)
        count = max(len(r) for r in every)
        widths = [max(len(r[i]) if i < len(r) else 0 for r in every) for i in range(count)]
        room = self._width - indent
        widths = [min(w, max(12, room // 2)) for w in widths]
        for number, row in enumerate(every):
            lead = " " * indent
            for i, cell in enumerate(row[:-1]):
                lead += cell[: widths[i]].ljust(widths[i]) + "  "
            lines = textwrap.wrap(
                row[-1] if row else "", max(self._width, len(lead) + 24), initial_indent=lead,
                subsequent_indent=" " * len(lead), break_on_hyphens=False) or [lead.rstrip()]
            self._lines += [click.style(x, bold=True) for x in lines] if header and not number \
                else lines

    def gap(self) -> None:
        """One empty line."""
        if self._lines and self._lines[-1]:
            self._lines.append("")

    def show(self) -> None:
        """Print the page."""
        click.echo("\n".join(self._lines))
