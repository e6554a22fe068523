"""Labels dressed up as people write them: order, case, short forms, counts, lengths, one slip."""

from __future__ import annotations

import random
import string

from etui.knowledge.model import Pattern
from etui.reading import Reader

SHORT = {
    "scissors": "sciss", "forceps": "fcps", "curved": "cvd", "straight": "str",
    "retractor": "retr", "handle": "hdl", "needle holder": "NH", "large": "lge", "small": "sm",
}  # fmt: skip
COUNTS = ("{}", "x{}", "x {}", "({})", "- {}", ".... {}", "{} ea", "qty {}", "{} off", ": {}")


def slip(word: str, rng: random.Random) -> str:
    """The word with one typing error: two letters swapped, one left out, doubled or wrong."""
    if len(word) < 5:
        return word
    at = rng.randrange(1, len(word) - 1)
    kind = rng.randrange(4)
    if kind == 0:
        return word[:at] + word[at + 1] + word[at] + word[at + 2 :]
    if kind == 1:
        return word[:at] + word[at + 1 :]
    if kind == 2:
        return word[:at] + word[at] + word[at:]
    return word[:at] + rng.choice(string.ascii_lowercase) + word[at + 1 :]


def slips(text: str, many: int, rng: random.Random) -> str:
    """The text with *many* slips, each in a word of its own while there are enough."""
    words = text.split(" ")
    able = [i for i, w in enumerate(words) if w.isalpha() and len(w) >= 5]
    rng.shuffle(able)
    for i in able[:many]:
        words[i] = slip(words[i], rng)
    return " ".join(words)


def dressed(label: str, pattern: Pattern, rng: random.Random, *, errors: int = 0) -> str:
    """*label* as a line: perhaps inverted, shortened, upper case, with a length and a count."""
    text = label
    plain = "(" not in text and "," not in text
    if rng.random() < 0.3:
        for word, short in SHORT.items():
            if word in text.casefold().split():
                text = " ".join(short if w.casefold() == word else w for w in text.split())
    words = text.split()
    if (
        plain
        and len(words) == 2
        and rng.random() < 0.3
        and all(w.isalpha() and w.casefold() not in ("without", "with") for w in words)
    ):
        text = f"{words[1]}, {words[0]}"
    if errors:
        text = slips(text, errors, rng)
    if rng.random() < 0.3:
        text = text.upper()
    if pattern.length_mm and rng.random() < 0.3:
        mm = (pattern.length_mm.low + pattern.length_mm.high) / 2
        if mm >= 60:
            text += rng.choice((f" {round(mm / 10)}cm", f" {round(mm)} mm", f' {mm / 25.4:.1f}"'))
    if rng.random() < 0.6:
        text += " " + rng.choice(COUNTS).format(rng.randrange(1, 9))
    return text


def outcome(reader: Reader, pattern: str, text: str) -> str:
    """right, asked (it is among the candidates), silent (no pattern named), or wrong."""
    reading = reader.read(text)
    found = [i.pattern for i in reading.items]
    if pattern in found[:1]:
        return "right"
    same = reader.reference.patterns[pattern].replaced_by
    if same and same in found[:1]:
        return "right"
    near = {a.id for i in reading.items for a in i.alternatives} | set(found)
    first = reading.first
    if any(i.kind == "unknown" for i in reading.items):
        return "silent"
    if any(i.kind == "ambiguous" for i in reading.items):
        return "asked" if pattern in near else "silent"
    if first.pattern is None:
        return "asked" if pattern in near else "silent"
    if first.assumed and pattern in near:
        return "asked"
    return "wrong"
