"""From chunks to items: which stretches of a line speak of one thing, and what is said of it."""

from __future__ import annotations

from dataclasses import dataclass, field

from etui.reading.chunks import Chunk
from etui.reading.fit import Facts
from etui.reading.index import Token
from etui.reading.match import Matcher
from etui.reading.outcome import Match

__all__ = ["Draft", "assemble", "facts_of"]

NEW_ITEM = frozenset(("and", "with", "on", "+", "&", ";"))
"""Separators after which another thing is expected."""


WORDS = frozenset(("without", "for"))


@dataclass(slots=True)
class Draft:
    """One item in the making."""

    chunks: list[Chunk]
    tokens: list[Token]
    match: Match
    joiner: str = ""
    parts: list[str] = field(default_factory=list)
    absent: list[str] = field(default_factory=list)
    states: list[str] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)
    gone: bool = False
    doubt: bool = False
    inherited: bool = False

    @property
    def weak(self) -> bool:
        """Only a noun or a class so far: what follows may say which one."""
        return self.match.pattern is None or self.match.class_id is not None


def facts_of(chunks: list[Chunk], nouns: tuple[tuple[str, tuple[str, ...]], ...] = ()) -> Facts:
    """What the chunks state about the piece."""
    curve = teeth = None
    forms: list[str] = []
    lengths: list[float] = []
    for chunk in chunks:
        curve = curve or chunk.attribute("curve")
        if chunk.angle is not None:
            curve = "right_angle" if 80 <= chunk.angle <= 100 else "angled"
        for text, kind in chunk.dims:
            if kind in ("teeth", ""):
                teeth = text
        teeth = teeth or chunk.attribute("teeth")
        forms += [v for g, v in chunk.attrs if g == "form"]
        lengths += [m.mm for m in chunk.measures if m.kind == "length"]
    length = max(lengths) if lengths else None
    return Facts(length, curve, teeth, tuple(dict.fromkeys(forms)), nouns)


def _counts_only(chunk: Chunk) -> Chunk:
    """What a chunk says besides its words, when those are a remark."""
    return Chunk(
        joiner=chunk.joiner,
        counts=chunk.counts,
        bare=chunk.bare,
        attrs=chunk.attrs,
        measures=chunk.measures,
        dims=chunk.dims,
        french=chunk.french,
        gauge=chunk.gauge,
    )


class _Assembler:
    def __init__(self, matcher: Matcher, nouns: tuple[tuple[str, tuple[str, ...]], ...]) -> None:
        self.matcher, self.nouns = matcher, nouns
        self.items: list[Draft] = []

    def match(self, chunks: list[Chunk], tokens: list[Token]) -> Match:
        return self.matcher.match(tokens, facts_of(chunks, self.nouns))

    def run(self, chunks: list[Chunk]) -> list[Draft]:
        whole = self._whole(chunks)
        if whole:
            return [whole]
        waiting: list[Chunk] = []
        for chunk in chunks:
            current = self.items[-1] if self.items else None
            if chunk.joiner == "without" and current is not None:
                self._absent(chunk, current)
            elif not chunk.has_name and not chunk.dims and not chunk.thread_size:
                if current is None:
                    waiting.append(chunk)
                elif chunk.names and not any(t.cls == "num" for t in current.tokens):
                    tokens = current.tokens + chunk.names
                    self._merge(
                        chunk, current, tokens, self.match([*current.chunks, chunk], tokens)
                    )
                elif not self._inherit(chunk, current):
                    current.chunks.append(chunk)
                    self._states(chunk, current)
            elif current is None:
                self._start(chunk, waiting)
                waiting = []
            else:
                self._next(chunk, current)
        if not self.items and waiting:
            tokens = [t for c in waiting for t in c.names]
            self.items.append(Draft(waiting, tokens, self.match(waiting, tokens)))
        return self.items

    def _whole(self, chunks: list[Chunk]) -> Draft | None:
        """The line as one name, when a label says exactly that ("trocar and cannula")."""
        if len([c for c in chunks if c.has_name or c.parts]) < 2:
            return None
        joins = frozenset(c.joiner for c in chunks if c.joiner in NEW_ITEM or c.joiner in WORDS)
        names = [t for c in chunks for t in c.names]
        counted = sum(1 for c in chunks if (c.counts or c.bare) and c.has_name)
        if len(names) > 14 or counted > 1:
            return None
        if sum(1 for c in chunks if c.designators and c.nouns) > 1:
            return None  # "blade 10: 1, blade 15: 2"
        if any(c.parts and not c.plain_names for c in chunks[1:]):
            return None
        found = self.match(chunks, names)
        if ("without" in found.joins) != ("without" in joins):
            return None
        if found.exact and found.explained > 0.97 and (found.score > 0.93 or found.class_id):
            named = [c for c in chunks if c.has_name]
            if not all(any(t.text in found.bag for t in found.mended(c.names)) for c in named):
                return None
            joined = [c for c in chunks[1:] if c.joiner in NEW_ITEM and c.has_name]
            if (
                joined
                and not found.joins
                and any(c.french or c.gauge or c.measures for c in chunks[:1])
            ):
                return None  # a size closes the first thing ("chest drain 28 Fr & bottle")
            if joined and not (found.joins and found.joins == joins):
                first = self.match(chunks[:1], chunks[0].names)
                second = self.match(joined[:1], joined[0].names)
                if first.pattern and (
                    (not first.assumed and first.pattern != found.pattern)
                    or (second.pattern and second.pattern != first.pattern)
                ):
                    return None
            draft = Draft(list(chunks), names, found)
            for chunk in chunks:
                self._states(chunk, draft)
            return draft
        return None

    def _tokens(self, chunk: Chunk) -> list[Token]:
        """Names of a chunk; parts are named only when that explains the words."""
        if not chunk.parts:
            return chunk.names
        with_parts = self.match([chunk], chunk.names)
        if with_parts.pattern and with_parts.explained > 0.9:
            chunk.parts = []
            return chunk.names
        if any(t.cls in ("core", "noun") for t in chunk.plain_names):
            return chunk.plain_names
        return chunk.names

    def _numbered(self, chunk: Chunk, before: list[Chunk]) -> bool:
        """ "10, 15 and 11 blades": numbers before the noun that they share."""
        nouns = [t for t in chunk.names if t.cls in ("noun", "core")]
        if not any(t.cls == "num" for t in chunk.names):
            return False
        made: list[Draft] = []
        for one in before:
            numbers = [*one.designators, *(f"{b[1].value:g}" for b in one.bare)]
            if len(numbers) != 1 or one.has_name or one.measures:
                return False
            tokens = [*nouns, Token(numbers[0], "num")]
            found = self.match([one], tokens)
            if not found.pattern or not self.matcher.numbers.is_designator(tokens[:-1], numbers[0]):
                return False
            one.bare, one.designators = [], numbers
            made.append(Draft([one], tokens, found, one.joiner))
        self.items += made
        return bool(made)

    def _start(self, chunk: Chunk, before: list[Chunk]) -> Draft:
        if before and self._numbered(chunk, before):
            before = []
        tokens = [t for c in before for t in c.names] + self._tokens(chunk)
        chunks = [*before, chunk]
        draft = Draft(chunks, tokens, self.match(chunks, tokens), chunk.joiner, list(chunk.parts))
        self._states(chunk, draft)
        self.items.append(draft)
        return draft

    def _states(self, chunk: Chunk, draft: Draft) -> None:
        draft.states += chunk.states
        if chunk.states:
            for part in chunk.parts:
                if part in draft.parts and any(part in s for s in chunk.states):
                    draft.parts.remove(part)
        if chunk.missing:
            if chunk.parts and (len(self.items) > 0 or chunk.plain_names):
                draft.absent += chunk.parts
                draft.parts = [p for p in draft.parts if p not in chunk.parts]
            elif not any(c.kind == "explicit" and c.value for c in chunk.counts) or (
                chunk.joiner not in ("(", "(,")
            ):
                draft.gone = True

    def _absent(self, chunk: Chunk, current: Draft) -> None:
        """ "no crank", "w/o mallet": a part or partner that is not there."""
        current.chunks.append(Chunk(joiner=chunk.joiner, counts=chunk.counts, bare=chunk.bare))
        if chunk.parts:
            current.absent += chunk.parts
            return
        found = self.match([chunk], chunk.names) if chunk.names else None
        known = found is not None and (found.pattern or found.named)
        if (known and found is not None and found.explained > 0.6) or (found and found.class_id):
            plain = [m.means.split(":")[-1] for m in chunk.marks if m.group not in ("filler",)]
            current.absent.append(" ".join(plain))
        else:
            current.remarks.append("without " + chunk.text)

    def _inherit(self, chunk: Chunk, current: Draft) -> bool:
        """ "Blades: 10 x2, 11 x1": a number of its own under the noun before it."""
        number = next((text for text in chunk.designators), None)
        if (
            number is None
            and chunk.bare
            and self.matcher.numbers.designates(current.tokens, chunk.bare[0][1])
        ):
            many = any(t.cls == "num" for t in current.tokens)
            if many and (chunk.counts or chunk.joiner in (",", "and", "&", "/", "+")):
                number = f"{chunk.bare[0][1].value:g}"
        if number is None or not any(t.cls == "num" for t in current.tokens):
            return False
        if not self.matcher.numbers.is_designator(current.tokens, number):
            return False
        tokens = [t for t in current.tokens if t.cls != "num"] + [Token(number, "num")]
        found = self.match([chunk], tokens)
        if found.pattern is None or found.pattern == current.match.pattern:
            return False
        if not chunk.designators:
            chunk.bare.pop(0)
            chunk.designators.append(number)
        self.items.append(Draft([chunk], tokens, found, chunk.joiner, inherited=True))
        return True

    def _next(self, chunk: Chunk, current: Draft) -> None:
        only_parts = bool(chunk.parts) and not any(
            t.cls in ("core", "noun") for t in chunk.plain_names
        )
        if only_parts:
            if current.weak and chunk.joiner not in NEW_ITEM:
                tokens = current.tokens + chunk.names
                joined = self.match([*current.chunks, chunk], tokens)
                if joined.pattern and joined.exact and not joined.class_id:
                    chunk.parts = []
                    self._merge(chunk, current, tokens, joined)
                    return
            self._part(chunk, current)
            return
        tokens = self._tokens(chunk)
        described = not any(t.cls in ("core", "noun", "weak") for t in tokens)
        alone = self.match([chunk], tokens)
        if self._ellipsis(chunk, current, tokens):
            return
        joined_tokens = current.tokens + tokens
        joined = self.match([*current.chunks, chunk], joined_tokens)
        if described and not (chunk.joiner in NEW_ITEM and alone.pattern):
            self._merge(chunk, current, joined_tokens, joined)
            return
        if chunk.joiner == "for":
            if (
                joined.explained > 0.9
                and (joined.pattern == current.match.pattern or current.match.pattern is None)
                and joined.pattern
            ):
                self._merge(chunk, current, joined_tokens, joined)
            elif current.match.named:
                current.doubt |= alone.explained < 0.6 and any(t.cls == "core" for t in tokens)
                current.remarks.append("for " + chunk.text)
                current.chunks.append(_counts_only(chunk))
                self._states(chunk, current)
            else:
                self._merge(chunk, current, joined_tokens, joined)
            return
        if self._belongs(chunk, current, alone, joined):
            self._merge(chunk, current, joined_tokens, joined)
            return
        if (
            alone.named
            and alone.pattern is None
            and not alone.class_id
            and joined.explained > 0.8
            and chunk.joiner not in NEW_ITEM
            and not self._counted(current)
        ):
            self._merge(chunk, current, joined_tokens, joined)
            return
        if (
            not alone.named
            and not chunk.others
            and not chunk.counts
            and not chunk.bare
            and (current.match.pattern or current.match.named)
            and chunk.joiner not in ("and", "+", "&", ";")
        ):
            current.doubt |= any(t.cls == "core" for t in tokens) and chunk.joiner not in (
                "(",
                "(,",
            )
            current.remarks.append(chunk.text)
            current.chunks.append(_counts_only(chunk))
            self._states(chunk, current)
            return
        if chunk.joiner in ("(", "(,") and not chunk.counts:
            current.remarks.append(chunk.text)
            self._states(chunk, current)
            return
        if (
            alone.pattern is None
            and joined.exact
            and joined.pattern
            and joined.pattern != current.match.pattern
            and chunk.joiner in NEW_ITEM
        ):
            tokens, alone = joined_tokens, joined  # "suction and tubing": suction tubing
        draft = Draft([chunk], tokens, alone, chunk.joiner, list(chunk.parts))
        self._states(chunk, draft)
        self.items.append(draft)

    def _ellipsis(self, chunk: Chunk, current: Draft, tokens: list[Token]) -> bool:
        """ "Gigli wires x3, handles x2": the name carries over to the next noun."""
        if not tokens or any(t.cls != "noun" for t in tokens) or not current.match.pattern:
            return False
        core = [t for t in current.tokens if t.cls == "core"]
        nouns = {t.text for t in current.tokens if t.cls == "noun"}
        if not core or {t.text for t in tokens} <= nouns:
            return False
        carried = [*core, *tokens]
        found = self.match([chunk], carried)
        if found.pattern and found.exact and found.pattern != current.match.pattern:
            self.items.append(Draft([chunk], carried, found, chunk.joiner))
            return True
        return False

    def _part(self, chunk: Chunk, current: Draft) -> None:
        if chunk.missing:
            current.absent += chunk.parts
        elif chunk.states:
            current.states += chunk.states
        elif chunk.joiner in NEW_ITEM and any(b[2] == "first" for b in chunk.bare):
            self.items.append(
                Draft([chunk], chunk.names, self.match([chunk], chunk.names), chunk.joiner)
            )
            return
        else:
            current.parts += chunk.parts
        # a count after the part counts the whole
        last = [b for b in chunk.bare if b[2] == "last"]
        if (chunk.counts or last) and not any(c.counts or c.bare for c in current.chunks):
            current.chunks.append(Chunk(joiner=chunk.joiner, counts=chunk.counts, bare=last))

    def _merge(self, chunk: Chunk, current: Draft, tokens: list[Token], joined: Match) -> None:
        current.chunks.append(chunk)
        current.tokens = tokens
        current.match = joined
        current.parts += chunk.parts
        self._states(chunk, current)

    def _belongs(self, chunk: Chunk, current: Draft, alone: Match, joined: Match) -> bool:
        """Whether the chunk tells more of the same thing."""
        best = joined.pattern
        both = all(
            any(t.text in joined.bag for t in joined.mended(tokens))
            for tokens in (current.tokens, chunk.names)
        )
        if (
            both
            and joined.exact
            and joined.explained > 0.95
            and joined.score > 0.9
            and not (
                chunk.joiner in NEW_ITEM
                and alone.pattern
                and current.match.pattern
                and alone.pattern != best
                and not self._counted(current)
            )
        ):
            if chunk.joiner in NEW_ITEM and self._apart(current, joined):
                return False
            return not (self._counted(current) and alone.pattern)
        if chunk.joiner in NEW_ITEM:
            return False
        if self._counted(current) and alone.named and chunk.joiner not in ("(", "(,"):
            return False
        if joined.explained < 0.8 or not joined.named:
            return False
        if current.weak and current.match.pattern is None:
            # a noun first, the pattern after it; not two names side by side
            nouns_only = not any(t.cls == "core" for t in current.tokens)
            return bool(joined.pattern or joined.ranked) and (
                nouns_only or joined.score >= alone.score - 0.02
            )
        if alone.pattern is None or alone.class_id or not alone.named:
            return joined.score >= current.match.score - 0.15 and bool(best)
        if best and best in (alone.pattern, current.match.pattern):
            return joined.score >= alone.score - 0.06 and joined.explained > 0.93
        return False

    @staticmethod
    def _apart(current: Draft, joined: Match) -> bool:
        """Whether two whole things stand side by side although their words make a third name."""
        first = current.match.pattern
        return bool(first) and not current.match.assumed and first != joined.pattern

    @staticmethod
    def _counted(draft: Draft) -> bool:
        return any(
            any(c.kind in ("explicit", "pair") for c in ch.counts)
            or (ch.has_name and any(b[2] == "last" for b in ch.bare))
            or (not ch.names and bool(ch.bare) and ch.joiner in (":", "-"))
            for ch in draft.chunks
        )


def assemble(
    chunks: list[Chunk],
    matcher: Matcher,
    nouns: tuple[tuple[str, tuple[str, ...]], ...] = (),
) -> list[Draft]:
    """Group *chunks* into items, in the order of the line."""
    return _Assembler(matcher, nouns).run(chunks)
