"""Numbers that are names: which of the numbers on a line belong to what it names."""

from __future__ import annotations

from etui.reading.chunks import Chunk
from etui.reading.index import Index, Token
from etui.reading.outcome import Scored
from etui.reading.text import Mark

__all__ = ["Numbers"]


def _plural(chunk: Chunk) -> bool:
    """Whether the last noun of the chunk is written in the plural."""
    nouns = [m for m in chunk.marks if m.group == "noun"]
    return bool(nouns) and nouns[-1].text.endswith("s") and not nouns[-1].means.endswith("s")


class Numbers:
    """Tells "handle 3" (a name) from "handles, 3" (a count) by the names in the graph."""

    def __init__(self, index: Index) -> None:
        self.index = index

    def is_designator(self, found: list[Token], number: str) -> bool:
        """Whether *number* is part of a name that the other words fit ("handle 3")."""
        core = {t.text for t in found if t.cls == "core"}
        nouns = [t for t in found if t.cls == "noun"]
        if not nouns and not core:
            return False
        for at, _ in self.index.postings.get(number, ()):
            lab = self.index.labels[at]
            bag, family = self.index.of_pattern[lab.pattern], self.index.families[lab.pattern]
            if not core <= bag or not all(t.text in bag or family in t.families for t in nouns):
                continue
            if any(t.text in lab.bag for t in nouns) or (
                not nouns and core == lab.core and not any(t.cls == "noun" for t in lab.tokens)
            ):
                return True
        return False

    def designates(self, found: list[Token], mark: Mark) -> bool:
        return mark.kind == "num" and self.is_designator(found, f"{mark.value:g}")

    def by_number(self, numbers: list[str]) -> tuple[Scored, ...]:
        """Patterns that go by a number alone or with a noun ("15"): what to ask about."""
        out: dict[str, Scored] = {}
        for number in numbers:
            for at, _ in self.index.postings.get(number, ()):
                lab = self.index.labels[at]
                if len(lab.tokens) <= 2 and not lab.core:
                    out.setdefault(lab.pattern, Scored(lab.pattern, 0.5, lab.text))
        return tuple(out[p] for p in sorted(out))

    def settle(self, chunks: list[Chunk], nouns: tuple[tuple[str, tuple[str, ...]], ...]) -> None:
        """Which numbers standing alone are part of a name ("22 blade ii", "Blade 10")."""
        above = [Token(n, "noun", 0, False, f) for n, f in nouns]
        for at, chunk in enumerate(chunks):
            if not chunk.bare and not any(c.kind == "explicit" for c in chunk.counts):
                continue
            names = chunk.plain_names
            has_noun = any(t.cls == "noun" for t in names)
            if not names:
                # a bracket or a number after the colon belongs to the words before it
                before = (
                    chunks[at - 1].plain_names
                    if at and chunk.joiner in ("(", ":", "-", ",")
                    else []
                )
                names = before or above
                if before and any(t.cls == "num" for t in before):
                    continue
                if chunk.joiner == "(" and before and _plural(chunks[at - 1]):
                    continue  # "handles (3)": three of them
                if not names:
                    continue
            elif not has_noun and above:
                names = [*names, *above]
            if any(t.cls == "num" for t in names):
                continue
            fits = [b for b in chunk.bare if self.designates(names, b[1])]
            if not fits and chunk.joiner == "(" and at and not chunk.bare:
                continue
            if not fits:
                continue
            pick = self._pick(chunk, fits)
            chunk.bare.remove(pick)
            text = f"{pick[1].value:g}"
            if pick[1].means != "spelt":
                chunk.written[text] = pick[1].text
            chunk.designators.append(text)
            token = Token(text, "num")
            chunk.flow = [f for f in chunk.flow if f != ("bare", "", int(pick[1].value))]
            if chunk.plain_names or not above:
                chunk.names.append(token)
                chunk.plain_names = (
                    [*chunk.plain_names, token]
                    if chunk.plain_names is not chunk.names
                    else chunk.names
                )
            else:
                chunk.names.extend([*above, token])
                chunk.plain_names = list(chunk.names)

    @staticmethod
    def _pick(chunk: Chunk, fits: list[tuple[int, Mark, str]]) -> tuple[int, Mark, str]:
        def beside(bare: tuple[int, Mark, str]) -> int:
            i = bare[0]
            after = chunk.marks[i + 1] if i + 1 < len(chunk.marks) else None
            before = chunk.marks[i - 1] if i else None
            if after is not None and after.group == "noun":
                return 0
            if before is not None and before.group == "noun":
                return 1
            return 2

        return min(fits, key=lambda b: (beside(b), b[0]))
