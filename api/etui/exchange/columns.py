"""Which column of a table says what: guessed from headers and contents, shown, correctable."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Literal

from msgspec import Struct

from etui.errors import BadInput
from etui.exchange.quantity import read_quantity

Role = Literal["item", "quantity", "size", "note"]
ROLES: tuple[Role, ...] = ("item", "quantity", "size", "note")

# Words that head a column, most telling first.  A header is matched on whole words.
_HEADERS: dict[Role, tuple[str, ...]] = {
    "item": ("item description", "instrument name", "item name", "description of item",
             "instrument description", "description", "instrument", "instruments", "item", "items",
             "article", "contents", "content", "product", "equipment", "name", "what", "piece",
             "nomenclature", "stock line", "text"),
    "quantity": ("qty on tray", "actual", "present", "on hand", "in stock", "quantity", "qty",
                 "count", "pcs", "pieces", "how many", "amount", "number", "par level", "par",
                 "required", "no", "nr", "qnty", "quant", "total", "n"),
    "size": ("size", "length", "dimension", "dimensions", "type", "pattern", "style", "shape",
             "curve", "gauge", "french", "fr", "detail", "details", "variant"),
    "note": ("note", "notes", "remark", "remarks", "comment", "comments", "condition", "state"),
}
_IGNORED = re.compile(
    r"\b(ref|reference|code|catalog(ue)?|cat|sku|barcode|gtin|udi|lot|batch|expir\w*|price|cost|"
    r"maker|manufacturer|supplier|brand|vendor|location|shelf|bin|position|pos|line|row|seq|id|"
    r"sign\w*|initials?|checked|check|date|section|category|group|department|pre|post|"
    r"before|after|first|second|closing|page)\b"
)
_LETTER = re.compile(r"^[A-Za-z]{1,2}$")


class Column(Struct, frozen=True):
    """One column in use: what it is taken for, where it stands (from 1) and its header."""

    role: Role
    number: int
    header: str = ""

    def __str__(self) -> str:
        shown = f'"{self.header}"' if self.header else "no header"
        return f"{self.role} = column {self.number} ({shown})"


class Layout(Struct, frozen=True):
    """How a table is laid out: the row of its headers (None: none) and its columns in use."""

    columns: tuple[Column, ...]
    header_row: int | None = None
    header: tuple[str, ...] = ()

    def numbers(self, role: Role) -> tuple[int, ...]:
        """Indices from 0 of the columns with this role, in the order they are read."""
        return tuple(c.number - 1 for c in self.columns if c.role == role)


def _norm(cell: str) -> str:
    return " ".join(re.sub(r"[^\w/#]+", " ", cell.lower()).split())


def header_role(cell: str) -> tuple[Role, int] | None:
    """The role that a header cell names and how telling it is (0 best); None if none."""
    words = _norm(cell).replace("#", "no")
    if not words or len(words) > 40:
        return None
    best: tuple[Role, int] | None = None
    for role, names in _HEADERS.items():
        for rank, name in enumerate(names):
            exact = words == name
            if exact or re.search(rf"\b{re.escape(name)}\b", words):
                found = (role, rank if exact else rank + 50)
                if best is None or found[1] < best[1]:
                    best = found
                break
    if best and best[1] >= 50 and _IGNORED.search(words):
        return None
    return best


def find_header(rows: Sequence[tuple[int, Sequence[str]]]) -> int | None:
    """Index in *rows* of the row that holds the headers, or None.

    A header row has at least one item header and nothing that is a plain number, and either a
    second known header or stands above rows that are wider than it says itself.
    """
    for index, (_, cells) in enumerate(rows[:40]):
        filled = [c for c in cells if c.strip()]
        if not filled or any(re.fullmatch(r"[\d.,]+", c.strip()) for c in filled):
            continue
        roles = [r[0] for c in filled if (r := header_role(c)) and len(c) <= 30]
        if "item" not in roles:
            continue
        exact = any((r := header_role(c)) and r[0] == "item" and r[1] < 50 for c in filled)
        if len(set(roles)) >= 2 or (exact and len(filled) >= 2):
            return index
        if exact and len(filled) == 1 and _norm(filled[0]) in (
            "item", "items", "description", "item description", "instrument", "instruments",
            "instrument name", "item name", "text", "article",
        ):
            return index
    return None


def _header_by_counts(rows: Sequence[tuple[int, Sequence[str]]]) -> int | None:
    """Index of the first row, where it holds only words and counts stand below one of them.

    So headers in any language are told from items.
    """
    filled = [(i, cells) for i, (_, cells) in enumerate(rows) if any(c.strip() for c in cells)]
    if len(filled) < 2:
        return None
    at, head = filled[0]
    if sum(1 for c in head if c.strip()) < 2 or any(s.isdigit() for c in head for s in c):
        return None
    for number, word in enumerate(head):
        below = [c for _, cells in filled[1:] if number < len(cells) and (
            c := cells[number].strip())]
        counts = sum(1 for c in below if re.fullmatch(r"[x(\[]*\s*\d{1,3}\s*[x)\]]*", c))
        if word.strip() and below and counts >= 0.7 * len(below):
            return at
    return None


def guess_layout(
    rows: Sequence[tuple[int, Sequence[str]]], *, wanted: Mapping[str, str] | None = None,
    where: str = "",
) -> Layout:
    """Guess the layout of a table from its first rows; *wanted* (role -> header) overrules.

    Raises:
        BadInput: *wanted* names a role or a column that is not there, or no column holds items.
    """
    at = find_header(rows)
    if at is None:
        at = _header_by_counts(rows)
    header = tuple(c.strip() for c in rows[at][1]) if at is not None else ()
    body = [cells for i, (_, cells) in enumerate(rows) if at is None or i > at]
    given, asked_row = _asked(wanted or {}, rows, header, where)
    if at is None and asked_row is not None:
        at, header = asked_row, tuple(c.strip() for c in rows[asked_row][1])
        body = [cells for _, cells in rows[at + 1:]]
    columns = list(given)
    taken = {c.number for c in columns}
    roles_given = {c.role for c in columns}
    if "item" not in roles_given:
        # "Instrument" and "Description" side by side: the first names, the others say more.
        for position, number in enumerate(_item_columns(header, body, taken)):
            columns.append(Column("size" if position else "item", number, header[number - 1]))
            taken.add(number)
    for role in ROLES[1:]:
        if role in roles_given:
            continue
        for number in _by_header(role, header, body):
            if number not in taken:
                columns.append(Column(role, number, header[number - 1]))
                taken.add(number)
    if not any(c.role == "item" for c in columns):
        wordy = _most_wordy(body or [cells for _, cells in rows], taken)
        if wordy is None:
            raise BadInput(
                "no column holds names of items.", where=where,
                mend="Say which one does, e.g. --column item=Description.",
            )
        columns.append(Column("item", wordy, _at(header, wordy)))
        taken.add(wordy)
    if not any(c.role == "quantity" for c in columns):
        counted = _most_counted(body, taken)
        if counted is not None:
            columns.append(Column("quantity", counted, _at(header, counted)))
    columns.sort(key=lambda c: (ROLES.index(c.role), given.index(c) if c in given else 0, c.number))
    return Layout(tuple(columns), rows[at][0] if at is not None else None, header)


def _at(header: tuple[str, ...], number: int) -> str:
    return header[number - 1] if number <= len(header) else ""


def _asked(
    wanted: Mapping[str, str], rows: Sequence[tuple[int, Sequence[str]]],
    header: tuple[str, ...], where: str,
) -> tuple[list[Column], int | None]:
    columns: list[Column] = []
    row: int | None = None
    width = max((len(cells) for _, cells in rows), default=0)
    for role, names in wanted.items():
        if role not in ROLES:
            raise BadInput(
                f'"{role}" is no role of a column.', where=where,
                mend=f"Use one of {', '.join(ROLES)}, e.g. --column item=Description.",
            )
        for name in names.split("+") if role in ("size", "note") else [names]:
            number, found_row = _find(name.strip(), rows, header, width)
            if number is None:
                shown = ", ".join(f'"{h}"' for h in header if h) or f"columns 1 to {width}"
                raise BadInput(
                    f'there is no column "{name.strip()}".', where=where,
                    mend=f"The table has {shown}.",
                )
            row = found_row if row is None else row
            columns.append(Column(role, number, _at(header, number) or (
                name.strip() if found_row is not None else "")))
    return columns, row


def _find(
    name: str, rows: Sequence[tuple[int, Sequence[str]]], header: tuple[str, ...], width: int
) -> tuple[int | None, int | None]:
    for number, cell in enumerate(header, 1):
        if cell.lower() == name.lower():
            return number, None
    for number, cell in enumerate(header, 1):
        if cell and _norm(cell) == _norm(name):
            return number, None
    for index, (_, cells) in enumerate(rows[:40]):
        for number, cell in enumerate(cells, 1):
            if cell.strip() and _norm(cell) == _norm(name):
                return number, index
    if name.isdigit() and 1 <= int(name) <= width:
        return int(name), None
    if _LETTER.match(name):
        number = 0
        for letter in name.upper():
            number = number * 26 + ord(letter) - 64
        if number <= width:
            return number, None
    return None, None


def _item_columns(
    header: tuple[str, ...], body: Sequence[Sequence[str]], taken: set[int]
) -> list[int]:
    """Columns with an item header that hold words and not the same words in every row."""
    found = []
    for number, cell in enumerate(header, 1):
        role = header_role(cell)
        if role is None or role[0] != "item" or number in taken:
            continue
        column = [c for cells in body if len(cells) >= number and (c := cells[number - 1].strip())]
        worded = sum(1 for c in column if sum(s.isalpha() for s in c) >= 3)
        if column and (worded < 0.5 * len(column) or (
            len(column) > 3 and len(set(column)) < 0.3 * len(column)
        )):
            continue
        found.append((role[1] >= 50, number))
    exact = [number for loose, number in found if not loose]
    return exact or [number for _, number in found[:1]]


def _by_header(
    role: Role, header: tuple[str, ...], body: Sequence[Sequence[str]]
) -> Iterator[int]:
    ranked = sorted(
        (found[1], number) for number, cell in enumerate(header, 1)
        if (found := header_role(cell)) and found[0] == role
    )
    if role in ("size", "note"):
        yield from (number for number in sorted(n for _, n in ranked))
        return
    for _, number in ranked:
        column = [cells[number - 1].strip() for cells in body if len(cells) >= number]
        filled = [c for c in column if c]
        if not filled and body:
            continue
        if role == "quantity" and not _looks_counted(filled):
            continue
        yield number
        return


def _looks_counted(cells: Sequence[str]) -> bool:
    """Mostly counts, so that a column of catalogue numbers is not taken for quantities."""
    if not cells:
        return True
    good = 0
    for cell in cells:
        try:
            quantity = read_quantity(cell, where="")
        except BadInput:
            # Broken counts ("-1") are for the reading of the row to refuse, with its place.
            good += len(cell) <= 5
            continue
        good += quantity.count is not None or len(quantity.words) <= 12
    return good >= 0.6 * len(cells)


def _most_wordy(body: Sequence[Sequence[str]], taken: set[int]) -> int | None:
    width = max((len(cells) for cells in body), default=0)
    best: tuple[float, int] | None = None
    for number in range(1, width + 1):
        if number in taken:
            continue
        column = [cells[number - 1] for cells in body if len(cells) >= number]
        letters = sum(min(sum(c.isalpha() for c in cell), 30) for cell in column)
        distinct = len({c.strip().lower() for c in column if c.strip()})
        score = letters * (0.3 + 0.7 * distinct / max(len(column), 1))
        if letters and (best is None or score > best[0]):
            best = (score, number)
    return best[1] if best else None


def _most_counted(body: Sequence[Sequence[str]], taken: set[int]) -> int | None:
    """The column without a telling header that holds small whole numbers and is no row counter."""
    width = max((len(cells) for cells in body), default=0)
    for number in range(1, width + 1):
        if number in taken:
            continue
        cells = [row[number - 1].strip() for row in body if len(row) >= number]
        filled = [c for c in cells if c]
        if len(filled) < max(1, 0.5 * len(cells)):
            continue
        counts = []
        for cell in filled:
            try:
                quantity = read_quantity(cell, where="")
            except BadInput:
                # A broken count among counts is refused when its row is read, with its place.
                if re.fullmatch(r"[-−–]\s*\d{1,3}", cell):
                    counts.append(0)
                continue
            if quantity.count is not None:
                counts.append(quantity.count)
        running = len(counts) > 2 and counts == list(range(counts[0], counts[0] + len(counts)))
        if len(counts) >= 0.7 * len(filled) and max(counts, default=0) <= 500 and not running:
            return number
    return None
