"""The invented lines with their answers, parsed from ``lines.txt``."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

LINES = Path(__file__).with_name("lines.txt")
FRESH = Path(__file__).with_name("fresh.txt")
FRESH_2 = Path(__file__).with_name("fresh-2.txt")

FIELDS = {"length": "length_mm"}


@dataclass(frozen=True)
class Want:
    """What one item of a line must be read as."""

    answer: str
    quantity: int | str | None
    attributes: tuple[tuple[str, str], ...]

    @property
    def ids(self) -> tuple[str, ...]:
        """Ids that are right; for questions, those that must be among the candidates."""
        if self.answer.startswith("?"):
            return tuple(p for p in self.answer[1:].strip().split(",") if p)
        return tuple(self.answer.split("|"))


@dataclass(frozen=True)
class Case:
    """One line: where it stands, its section, its text and its items."""

    number: int
    section: str
    text: str
    wants: tuple[Want, ...]


def _want(text: str) -> Want:
    answer, *fields = [f.strip() for f in text.split(" ; ")]
    quantity: int | str | None = "any"
    attributes: list[tuple[str, str]] = []
    for field in fields:
        key, _, value = field.partition("=")
        if key == "q":
            quantity = None if value == "-" else int(value)
        else:
            attributes.append((FIELDS.get(key, key), value))
    return Want(answer, quantity, tuple(attributes))


def load(file: Path | None = None) -> tuple[Case, ...]:
    """All cases of a file (``lines.txt`` when none is named), in its order."""
    out: list[Case] = []
    section = ""
    for number, line in enumerate((file or LINES).read_text("utf-8").splitlines(), start=1):
        if line.startswith("##"):
            section = line[2:].strip()
        elif line and not line.startswith("#"):
            text, _, answer = line.rpartition(" => ")
            out.append(Case(number, section, text, tuple(_want(w) for w in answer.split(" && "))))
    return tuple(out)
