"""From rows of cells to lines of a tray: title rows, headers, section rows, quantities."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from itertools import chain, islice

from msgspec import Struct

from etui.errors import BadInput
from etui.exchange.columns import Layout, find_header, guess_layout, header_role
from etui.exchange.heading import Heading, directive, row_directive, split_things
from etui.exchange.quantity import read_quantity
from etui.trays.model import Line, Place

Row = tuple[int, Sequence[str]]
"""Row number from 1 and its cells as text."""

_SAMPLE = 300


class Table(Struct):
    """A table on the way to lines: its layout, what its title rows say, and its lines.

    ``alongside`` and ``sections`` (headings between the lines) grow while the lines are taken.
    """

    layout: Layout
    heading: Heading
    lines: Iterator[Line]
    alongside: list[Line]
    sections: list[str]


def read_table(
    rows: Iterable[Row], *, file: str, sheet: str | None = None,
    wanted: Mapping[str, str] | None = None, headings: Collection[int] = (),
) -> Table:
    """Guess the layout from the first rows, then hand out lines one by one.

    Args:
        rows: The rows, one by one.
        file: Name of the file, for places and errors.
        sheet: Name of the sheet.
        wanted: Corrections, role -> header, letter or number.
        headings: Numbers of rows that are known to be headings (merged over the table).

    Raises:
        BadInput: No column holds items, or (while iterating) a quantity is broken.
    """
    stream = iter(rows)
    sample = list(islice(stream, _SAMPLE))
    where = ":".join(p for p in (file, sheet) if p)
    period = side_by_side(sample)
    if period:
        sample, stream = list(_unfold(sample, period)), _unfold(stream, period)
    layout = guess_layout(sample, wanted=wanted, where=where)
    heading = Heading()
    body_from = 0
    if layout.header_row is not None:
        for index, (number, cells) in enumerate(sample):
            if number == layout.header_row:
                body_from = index + 1
                break
            heading = heading.take([c for c in cells if c.strip()])
    else:
        while body_from < len(sample):
            cells = [c for c in sample[body_from][1] if c.strip()]
            taken = heading.take(cells, strict=True)
            if cells and taken == heading:
                break
            heading = taken
            body_from += 1
    rest = chain(sample[body_from:], stream)
    alongside = [Line(text=t, place=Place(file=file, sheet=sheet)) for t in heading.alongside]
    sections: list[str] = []
    shouted = _mostly_shouted(sample, layout)
    lines = _lines(
        _without_headings(rest, layout, frozenset(headings), shouted, sections), layout, file,
        sheet, alongside,
    )
    return Table(layout, heading, lines, alongside, sections)


def _mostly_shouted(sample: Sequence[Row], layout: Layout) -> bool:
    """Are the items themselves written in capitals?  Then capitals mark no heading."""
    at = layout.numbers("item")[0]
    items = [c for _, cells in sample if (c := _cell(cells, at)) and any(map(str.isalpha, c))]
    return sum(c.isupper() for c in items) > 0.5 * len(items)


def _without_headings(
    rows: Iterable[Row], layout: Layout, known: Collection[int], shouted: bool,
    sections: list[str],
) -> Iterator[Row]:
    """Rows but for headings between the lines, which are kept apart and told.

    A heading is a row merged over the table, or, where a column of quantities is filled, the only
    words of their row, in capitals or with a colon.
    """
    counted = bool(layout.numbers("quantity")) and layout.header_row is not None
    for number, cells in rows:
        filled = [" ".join(c.split()) for c in cells if c.strip()]
        alone = filled[0] if len(set(filled)) == 1 else ""
        marked = counted and not shouted and len(alone) > 2 and not any(
            c.isdigit() for c in alone) and (alone.isupper() or alone.endswith(":"))
        if alone and (number in known or marked) and directive(alone) is None:
            sections.append(f"{alone} (row {number})")
            continue
        yield number, cells


def _lines(
    rows: Iterable[Row], layout: Layout, file: str, sheet: str | None, alongside: list[Line]
) -> Iterator[Line]:
    item_at = layout.numbers("item")[0]
    quantity_at = layout.numbers("quantity")
    more_at = layout.numbers("size")
    note_at = layout.numbers("note")
    in_use = {c.number - 1 for c in layout.columns}
    header = tuple(c.lower() for c in layout.header if c)
    for number, cells in rows:
        filled = tuple(c.strip().lower() for c in cells if c.strip())
        if not filled or filled == header:
            continue
        place = Place(file=file, sheet=sheet, row=number)
        item = _cell(cells, item_at)
        words = [" ".join(c.split()) for c in cells if c.strip()]
        beside = row_directive(words)
        if beside and beside[0] == "alongside":
            alongside.extend(Line(text=t, place=place) for t in split_things(beside[1]))
            continue
        if not item:
            # A heading or a stray word outside the item column: the reader says what it is.
            words = [" ".join(c.split()) for i, c in enumerate(cells)
                     if i not in in_use and any(s.isalpha() for s in c)]
            words = words or [_cell(cells, i) for i in more_at if _cell(cells, i)]
            words = words or [_cell(cells, i) for i in note_at if _cell(cells, i)]
            words = words or [_cell(cells, i) for i in quantity_at if _cell(cells, i)]
            words = [w for w in words if any(s.isalpha() for s in w)]
            if words:
                yield Line(text=" ".join(words), place=place)
            continue
        quantity = None
        before = ""
        if quantity_at:
            read = read_quantity(_cell(cells, quantity_at[0]), where=str(place))
            quantity, before = read.count, read.words
        text = _joined(item, [_cell(cells, i) for i in more_at], [_cell(cells, i) for i in note_at])
        yield Line(text=f"{before} {text}".strip(), qty=quantity, place=place)


def side_by_side(rows: Sequence[Row]) -> int | None:
    """Width of one block where a list is set in several blocks side by side, else None.

    Printed sheets do this to save paper; reading only the first block would lose items.
    """
    at = find_header(rows)
    if at is None:
        return None
    header = [c.strip().lower() for c in rows[at][1]]
    while header and not header[-1]:
        header.pop()
    for period in range(1, len(header) // 2 + 1):
        pairs = list(zip(header, header[period:], strict=False))
        named = {a for a, b in pairs if a}
        if all(a == b for a, b in pairs) and any(
            (role := header_role(a)) and role[0] == "item" for a in named
        ) and (period > 1 or len(header) > 1):
            return period
    return None


def _unfold(rows: Iterable[Row], period: int) -> Iterator[Row]:
    for number, cells in rows:
        blocks = [cells[i:i + period] for i in range(0, len(cells), period)]
        yield from ((number, block) for i, block in enumerate(blocks)
                    if i == 0 or any(c.strip() for c in block))


def _cell(cells: Sequence[str], index: int) -> str:
    return " ".join(cells[index].split()) if index < len(cells) else ""


def _joined(item: str, sizes: Sequence[str], notes: Sequence[str]) -> str:
    """The item as written, its size after it, a note in brackets; nothing said twice."""
    text = item
    for size in sizes:
        if size and not re.fullmatch(r"[-–—.]+|n/?a", size, re.IGNORECASE) \
                and size.lower() not in text.lower():
            text = f"{text} {size}" if text.endswith(",") else f"{text}, {size}"
    for note in notes:
        if note and any(c.isalpha() for c in note) and note.lower() not in text.lower():
            text = f"{text} ({note})"
    return text


def sniff_delimiter(lines: Sequence[str], *, may_be_comma: bool) -> str | None:
    """The sign that parts the cells of these lines, or None when they are plain text.

    A comma parts items from their own details ("Mayo scissors, curved") as often as cells, so
    it counts only in files that say they are CSV or whose header is one.
    """
    import csv

    lines = [line for line in lines if line.strip()][:60]
    if not lines:
        return None
    best: tuple[float, str] | None = None
    for sign in ("\t", ";", "|", ","):
        if sign == "," and not may_be_comma:
            continue
        try:
            widths = [len(row) for row in csv.reader(lines, delimiter=sign)]
        except csv.Error:
            continue
        several = [w for w in widths if w > 1]
        if not several:
            continue
        usual = max(set(several), key=lambda w: (several.count(w), w))
        share = several.count(usual) / len(widths)
        if share < (0.3 if may_be_comma else 0.7):
            continue
        score = share + 0.02 * min(usual, 10)
        if best is None or score > best[0]:
            best = (score, sign)
    return best[1] if best else None


def delimited_rows(
    lines: Iterable[tuple[int, str]], *, delimiter: str, file: str
) -> Iterator[Row]:
    """Rows of delimited text with the number of the line on which each begins.

    Raises:
        BadInput: A quotation mark that is opened and never closed would swallow lines.
    """
    import csv

    raw: list[tuple[int, str]] = []

    def feed() -> Iterator[str]:
        for number, text in lines:
            raw.append((number, text))
            if len(raw) > 20:
                raise _unclosed(raw[0][0], file)
            yield text + "\n"

    reader = csv.reader(feed(), delimiter=delimiter, skipinitialspace=True)
    try:
        for cells in reader:
            start = raw[0][0] if raw else 0
            if len(raw) > 1 and sum(t.count('"') for _, t in raw) % 2:
                raise _unclosed(start, file)
            raw.clear()
            yield start, cells
    except csv.Error as error:
        raise BadInput(
            f"the row cannot be parted into cells ({error}).",
            where=f"{file}:{raw[0][0] if raw else 1}", mend="Save the list again as CSV.",
        ) from error


def _unclosed(line: int, file: str) -> BadInput:
    return BadInput(
        'a quotation mark opens a cell and is never closed, so the lines after it would be lost.',
        where=f"{file}:{line}", mend='Write inch marks inside a quoted cell twice ("").',
    )
