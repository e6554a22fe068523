"""What the head of a list says about it: title, procedures, operator, what is kept alongside."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Literal

from msgspec import Struct, structs

Key = Literal["title", "procedures", "operator", "alongside", "contents"]

_KEYS: dict[str, Key] = {
    "title": "title", "tray": "title", "tray name": "title", "name of tray": "title",
    "set": "title", "set name": "title", "list": "title", "pack": "title", "stock": "title",
    "procedure": "procedures", "procedures": "procedures", "for": "procedures",
    "used for": "procedures", "intended for": "procedures", "operation": "procedures",
    "operations": "procedures", "purpose": "procedures", "use": "procedures",
    "operator": "operator", "used by": "operator", "operators": "operator", "user": "operator",
    "hands": "operator", "who": "operator", "team": "operator",
    "alongside": "alongside", "kept alongside": "alongside", "kept beside": "alongside",
    "beside the tray": "alongside", "beside": "alongside", "kept nearby": "alongside",
    "kept beside the tray": "alongside", "kept next to it": "alongside",
    "kept separately": "alongside", "not on the tray": "alongside", "also at hand": "alongside",
    "at hand": "alongside", "kept on the trolley": "alongside", "kept with it": "alongside",
    "contents": "contents", "on the tray": "contents", "items": "contents",
    "instruments": "contents", "in the bag": "contents", "in the set": "contents",
    "in the pack": "contents", "in the box": "contents", "what is in it": "contents",
}
TRAY_WORD = re.compile(
    r"\b(tray|set|pack|kit|bag|box|list|sheet|bundle|pouch|roll|trolley|tin|basket|cupboard|"
    r"stock|store)\b", re.IGNORECASE,
)
_PAIR = re.compile(r"^\s*([A-Za-z][A-Za-z ()/]{1,30}?)\s*[:=]\s*(.*)$")


def directive(text: str) -> tuple[Key, str] | None:
    """The (key, value) of a line such as "Procedure: wound repair"; None for any other line."""
    match = _PAIR.match(text)
    if not match:
        return None
    key = _KEYS.get(_plain(match[1]))
    return (key, match[2].strip()) if key else None


def row_directive(cells: Sequence[str]) -> tuple[Key, str] | None:
    """The (key, value) of a row such as "Procedure: wound repair" or "Procedure | wound repair"."""
    if not cells:
        return None
    found = directive(cells[0])
    if found:
        return found[0], found[1] or "; ".join(cells[1:])
    key = _KEYS.get(_plain(cells[0].rstrip(": ")))
    if key and key != "contents" and len(cells) == 2 and not cells[1].isdigit():
        return key, cells[1]
    return None


def _plain(words: str) -> str:
    return " ".join(re.sub(r"\((s|es)\)", r"\1", words.lower()).replace("/", " ").split())


def split_procedures(value: str) -> tuple[str, ...]:
    """Parts of "wound repair; abscess drainage", as written.

    Commas do not part here: names of procedures hold them ("Suprapubic catheter, by puncture").
    """
    return tuple(p.strip(" .") for p in re.split(r"[;\n|]", value) if p.strip(" ."))


def split_things(value: str) -> tuple[str, ...]:
    """Parts of "suction, dressings; gloves", as written; commas inside brackets do not part."""
    parts = re.split(r"[;\n]|,(?![^(]*\))(?!\d)", value)
    return tuple(p.strip(" .") for p in parts if p.strip(" ."))


class Heading(Struct, frozen=True):
    """What stands above a list."""

    title: str | None = None
    procedures: tuple[str, ...] = ()
    operator: str | None = None
    alongside: tuple[str, ...] = ()

    def with_(self, key: Key, value: str) -> Heading:
        """A copy that has taken one directive."""
        if not value:
            return self
        if key == "title":
            return structs.replace(self, title=value)
        if key == "procedures":
            return structs.replace(self, procedures=self.procedures + split_procedures(value))
        if key == "operator":
            return structs.replace(self, operator=value)
        if key == "alongside":
            return structs.replace(self, alongside=self.alongside + split_things(value))
        return self

    def take(self, cells: Sequence[str], *, strict: bool = False) -> Heading:
        """A copy that has taken one row above the table.

        With *strict* (no header row tells where the table begins) only rows that say what they
        are count; else the first row of words without a key is the title.
        """
        cells = [" ".join(c.split()) for c in cells if c.strip()]
        if not cells:
            return self
        found = row_directive(cells)
        if found and found[0] != "contents":
            return self.with_(*found)
        others = [f for c in cells[1:] if (f := directive(c))]
        taken = self
        for other in others:
            taken = taken.with_(*other)
        if taken.title is None and not strict and any(c.isalpha() for c in cells[0]):
            taken = structs.replace(taken, title=cells[0])
        return taken
