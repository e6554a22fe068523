"""What a drawing needs to know of a pattern, read from its features and sizes.

Nothing is guessed silently: every size or shape that the record does not hold is noted in
:attr:`Look.notes`, which ends up under the drawing and in its text for screen readers.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from etui.drawing.pen import Pen
from etui.knowledge.model import Pattern, Range

WEIGHT = {"micro": 0.65, "delicate": 0.8, "medium": 1.0, "heavy": 1.25}
"""How stout the parts are drawn, against a medium build."""

USUAL_LENGTH: dict[str, float] = {
    "scalpel": 130,
    "scalpel_blade": 45,
    "scissors": 150,
    "thumb_forceps": 150,
    "haemostat": 150,
    "vascular_clamp": 200,
    "grasper": 190,
    "towel_clip": 110,
    "needle_holder": 150,
    "retractor_hand": 210,
    "retractor_self": 180,
    "rib_spreader": 220,
    "dilator": 140,
    "bone": 220,
    "cranial": 150,
    "dissector": 190,
    "probe": 150,
    "suction": 240,
    "drain": 350,
    "access": 100,
    "airway": 250,
    "suture": 60,
    "defib": 220,
    "energy": 160,
}
"""Lengths (mm) used where the record holds none; the drawing then says that it is not to scale."""


@dataclass(slots=True)
class Look:
    """The features of one pattern, as the drawing asks for them."""

    pattern: Pattern
    length_mm: float | None = None
    notes: list[str] = field(default_factory=list)

    @property
    def family(self) -> str:
        return self.pattern.family

    @property
    def to_scale(self) -> bool:
        """Whether the overall length is stated, by the caller or by the record."""
        return self.length_mm is not None or self.pattern.length_mm is not None

    @property
    def length(self) -> float:
        """Overall length to draw: as asked, else the middle of the range, else a usual one."""
        if self.length_mm is not None:
            return self.length_mm
        if self.pattern.length_mm is not None:
            return middle(self.pattern.length_mm)
        return USUAL_LENGTH.get(self.family, 120.0)

    @property
    def stout(self) -> float:
        """Factor for the thickness of parts, from the weight of the build."""
        words = self.words("weight")
        return WEIGHT.get(words[0], 1.0) if words else 1.0

    def words(self, key: str) -> tuple[str, ...]:
        """The words of a feature; several when the pattern comes in several forms."""
        found: list[str] = []
        for word in self.pattern.features.get(key, ()):
            found += ["straight", "curved"] if word == "either" else [word]
        return tuple(dict.fromkeys(found))

    def word(self, key: str, what: str | None = None) -> str | None:
        """The first word of a feature.

        ``what`` names the feature in plain words: then it is noted when it is not recorded.
        """
        words = self.words(key)
        if not words and what:
            self.note(f"{what} not recorded: drawn dashed")
        return words[0] if words else None

    def has(self, key: str, *parts: str) -> bool:
        """Whether any word of the feature holds any of the given parts of words."""
        return any(part in word for word in self.words(key) for part in parts)

    def mm(self, key: str, usual: float) -> float:
        """A size in millimetres: the middle of its range in the plainest form, else a usual one."""
        for form in sorted(self.pattern.forms, key=lambda f: f.form != ""):
            if key in form.measures:
                return middle(form.measures[key])
        if key in self.pattern.measures:
            return middle(self.pattern.measures[key])
        return usual

    def knows(self, key: str) -> bool:
        """Whether a size is recorded."""
        return key in self.pattern.measures or any(key in f.measures for f in self.pattern.forms)

    def knows_any(self, *keys: str) -> bool:
        """Whether any of these sizes or features is recorded."""
        return any(self.knows(k) or self.words(k) for k in keys)

    def volume(self) -> float | None:
        """Volume in mL, where one is recorded."""
        return self.mm("volume_ml", 0.0) if self.knows("volume_ml") else None

    def build(self, key: str) -> str | None:
        """A word on the build of a form (stiffness, point, edge, guard ...)."""
        for form in sorted(self.pattern.forms, key=lambda f: f.form != ""):
            if key in form.words:
                return form.words[key]
        return None

    def note(self, text: str) -> None:
        """Say something under the drawing, once."""
        if text not in self.notes:
            self.notes.append(text)


def middle(size: Range) -> float:
    """The middle of a range."""
    return (size.low + size.high) / 2


@dataclass(frozen=True, slots=True)
class Panel:
    """One view of a thing: the pen, what it shows, and how much larger than the main scale."""

    pen: Pen
    label: str
    magnified: bool = False
