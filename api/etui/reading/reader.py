"""The reader: one line of text to what it names, how many, in what size and state."""

from __future__ import annotations

import dataclasses
from functools import partial

from etui.knowledge.model import Pattern, Reference
from etui.reading.attributes import attributes_of
from etui.reading.chunks import Chunk
from etui.reading.fit import Facts
from etui.reading.index import Index, tokens
from etui.reading.items import Draft, assemble, facts_of
from etui.reading.lexicon import Lexicon
from etui.reading.match import Matcher
from etui.reading.model import Alternative, Item, Kind, Reading
from etui.reading.procedures import match_procedure
from etui.reading.quantity import counts_of, variants
from etui.reading.scan import read_chunks
from etui.reading.spelling import Speller
from etui.reading.text import LONGEST_LINE, fold

__all__ = ["Reader"]

_NOTHING = Facts()

FATAL = frozenset(("signature", "page", "total", "heads"))
"""Kinds of not-an-item words that end the reading wherever they stand."""


class Reader:
    """Reads lines against one reference; safe to share between threads once built.

    Args:
        reference: The loaded graph; its names and its lexicon are all the vocabulary there is.
    """

    def __init__(self, reference: Reference) -> None:
        self.reference = reference
        self.lexicon = Lexicon(reference.abbreviations)
        self.index = Index(reference, self.lexicon)
        self.speller = Speller(self.lexicon, self.index)
        self.matcher = Matcher(reference, self.lexicon, self.index)

    def read(self, text: str, *, heading: str | None = None) -> Reading:
        """What *text* says.

        Args:
            text: One line as written; anything longer than :data:`LONGEST_LINE` is refused.
            heading: The heading that stands above the line ("BLADES"); its noun helps to decide.
        """
        if len(text) > LONGEST_LINE:
            why = (
                f"The line has {len(text):,} characters; lines over {LONGEST_LINE:,} are not read."
            )
            return Reading(
                text=text, items=(Item(text=text[:80], kind="unknown", why=why),), why=why
            )
        folded = self.speller.mend(fold(text))
        if not any(c.isalnum() for c in folded):
            return _not_item(text, "nothing is written here")
        found = self.matcher.mender.rejoin(self.lexicon.read(folded))
        nouns = self._heading(heading)
        chunks = read_chunks(found, self.index, self.lexicon, {n for n, _ in nouns})
        self.matcher.numbers.settle(chunks, nouns)
        refusal = self._refused(chunks)
        if refusal:
            return _not_item(text, refusal)
        drafts = assemble(chunks, self.matcher, nouns)
        drafts = self._drop_remarks(drafts)
        if not drafts:
            return _not_item(text, "only words that describe a remark")
        items: list[Item] = []
        for draft in drafts:
            items.extend(self._items(draft, text, alone=len(drafts) == 1))
        items = _share_count(items, drafts)
        return Reading(text=text, items=tuple(items), why="; ".join(i.why for i in items if i.why))

    def match_procedure(self, text: str) -> tuple[str | None, list[tuple[str, str, float]]]:
        """The procedure that *text* names; see :func:`etui.reading.procedures.match_procedure`."""
        return match_procedure(text, self.reference)

    # -- what is no item ---------------------------------------------------------------------

    def _heading(self, heading: str | None) -> tuple[tuple[str, tuple[str, ...]], ...]:
        if not heading or len(heading) > 200:
            return ()
        found = tokens(self.lexicon.read(fold(heading)))
        return tuple((t.text, t.families) for t in found if t.cls == "noun")

    def _refused(self, chunks: list[Chunk]) -> str | None:
        """Why the whole line is no item, or None."""
        nots = [(at, word) for at, chunk in enumerate(chunks) for word in chunk.nots]
        if not nots:
            return None
        names = [t for c in chunks for t in c.names]
        if len(names) <= 14:
            whole = self.matcher.match(names, _NOTHING)
            if whole.exact and whole.explained > 0.97:
                for chunk in chunks:
                    chunk.nots = []
                return None
        if any(word in FATAL for _, word in nots):
            return f"it has the words of a {next(w for _, w in nots if w in FATAL)} line"
        at, word = nots[0]
        before = chunks[:at]
        if before and any(c.has_name for c in before):
            sure = self.matcher.match(before[0].names, _NOTHING)
            if sure.pattern and not before[0].heads:
                del chunks[at:]
                return None
        return f"it has the words of a {word} line"

    def _drop_remarks(self, drafts: list[Draft]) -> list[Draft]:
        """Remarks after a sure item are kept with it, not as things of their own."""
        kept: list[Draft] = []
        for draft in drafts:
            named = draft.match.named or any(c.others or c.thread_size for c in draft.chunks)
            counted = any(c.counts or c.bare for c in draft.chunks)
            if kept and not named and not counted and kept[-1].match.pattern:
                kept[-1].remarks.append(" ".join(c.text for c in draft.chunks))
            else:
                kept.append(draft)
        return kept

    # -- one draft ---------------------------------------------------------------------------

    def _items(self, draft: Draft, text: str, *, alone: bool) -> list[Item]:
        match = draft.match
        pattern = self.reference.patterns.get(match.pattern or "")
        why = [match.why] if match.why else []
        others = [o for c in draft.chunks for o in c.others]
        heads = [h for c in draft.chunks for h in c.heads]
        kind: Kind
        chosen = match.pattern
        if (
            chosen
            and others
            and not (self._label_has(chosen, others) and self._more_than(draft, others))
        ):
            chosen, pattern = None, None
            why.append(f'"{others[0]}" makes it another thing than the piece it is named after')
            kind = "consumable"
        elif (
            not chosen
            and others
            and not (match.exact and match.ranked and self._label_has(match.ranked[0].id, others))
        ):
            kind = "consumable" if not self._asks(draft) else "ambiguous"
            why.append(f'"{others[0]}" is a thing outside the reference')
        elif heads and not (chosen and self._label_has(chosen, heads)):
            counted = any(
                c.counts or c.bare or c.measures or c.french or c.gauge for c in draft.chunks
            )
            chosen, pattern = None, None
            kind = "unknown" if counted else "not-an-item"
            why.append(f'"{heads[0]}" names a set or a place, not a piece')
        elif chosen and self._part_of(draft):
            chosen, pattern, kind = None, None, "unknown"
            why.append("it is a part of the piece that the words name")
        elif chosen and draft.doubt and match.assumed:
            chosen, pattern, kind = None, None, "ambiguous"
            why.append("words follow that are not understood and may say which one")
        elif chosen:
            kind = self._kind(pattern)
        elif match.ask and (match.ranked or match.class_id):
            kind = "ambiguous" if match.ranked else "consumable"
        elif self._bare_ask(draft):
            kind = "ambiguous"
            numbers = [d for c in draft.chunks for d in c.designators]
            numbers += [f"{b[1].value:g}" for c in draft.chunks for b in c.bare]
            numbers += [f"{c.gauge:g}" for c in draft.chunks if c.gauge]
            draft.match = match = match.changed(ranked=self.matcher.numbers.by_number(numbers))
        elif (
            alone
            and not draft.tokens
            and not any(c.counts or c.bare or c.measures for c in draft.chunks)
        ):
            kind = "not-an-item"
            why.append("no word names anything")
        else:
            kind = "unknown"
        if (
            alone
            and (kind == "ambiguous" or (match.assumed and text.strip().endswith(":")))
            and self._is_heading(draft, text)
        ):
            kind = "not-an-item"
            why.append("a noun alone without a count is a heading")
        if kind == "manoeuvre":
            draft.gone = False
        attributes = attributes_of(draft, pattern)
        quantity, how = counts_of(draft, pattern, self.lexicon.one_pair)
        if how:
            why.append(how)
        why += [f'"{r}" taken as a remark' for r in draft.remarks if r]
        name = self.index.names.get(chosen) if chosen else None
        ranked = (
            ()
            if kind in ("not-an-item",)
            else tuple(
                Alternative(id=s.id, name=self.index.names[s.id], score=s.score)
                for s in match.ranked
                if s.id != chosen
            )
        )
        if kind == "consumable" and not chosen:
            ranked = ()
        item = Item(
            text=" ".join(c.text for c in draft.chunks),
            kind=kind,
            pattern=chosen if kind not in ("not-an-item",) else None,
            name=name,
            quantity=quantity if kind not in ("manoeuvre", "not-an-item") else None,
            attributes=attributes,
            alternatives=ranked[:10],
            ask=match.ask if kind == "ambiguous" else None,
            score=round(match.score, 3),
            parts=tuple(dict.fromkeys(draft.parts)),
            assumed=match.assumed and chosen is not None,
            why="; ".join(why),
        )
        return variants(item, draft, partial(self._by_kind, draft)) or [item]

    def _by_kind(self, draft: Draft, item: Item, group: str, value: str) -> Item:
        """The item under the pattern that its own curve, teeth or form make it."""
        said = [t for t in draft.tokens if t.cls != "attr" or not t.text.startswith(f"{group}:")]
        told = [t for t in draft.tokens if t.cls == "attr" and t.text == f"{group}:{value}"]
        facts = facts_of(draft.chunks)
        if group == "curve":
            facts = dataclasses.replace(facts, curve=value)
        elif group == "teeth":
            facts = dataclasses.replace(facts, teeth=value)
        found = self.matcher.match([*said, *told[:1]], facts)
        if found.pattern in (None, item.pattern):
            return item
        others = tuple(
            Alternative(id=s.id, name=self.index.names[s.id], score=s.score)
            for s in found.ranked
            if s.id != found.pattern
        )
        return _replace(
            item,
            pattern=found.pattern,
            name=self.index.names[found.pattern],
            alternatives=others[:10],
            score=round(found.score, 3),
            kind=self._kind(self.reference.patterns.get(found.pattern)),
            why=f"{item.why}; {found.why}",
        )

    def _label_has(self, pattern: str, words: list[str]) -> bool:
        bag = self.index.of_pattern.get(pattern, frozenset())
        return all(t.text in bag for w in words for t in tokens(self.lexicon.read(fold(w))))

    def _more_than(self, draft: Draft, others: list[str]) -> bool:
        """Whether the name rests on more than the word of the other thing ("cover")."""
        words = {t.text for w in others for t in tokens(self.lexicon.read(fold(w)))}
        return draft.match.exact or any(
            t.cls in ("core", "noun") and t.text not in words for t in draft.tokens
        )

    def _kind(self, pattern: Pattern | None) -> Kind:
        if pattern is None or pattern.family in ("manoeuvre", "hand_manoeuvre"):
            return "manoeuvre"
        part = pattern.features.get("part", ())
        if pattern.family == "consumable" or "consumable" in part:
            return "consumable"
        return "instrument"

    def _part_of(self, draft: Draft) -> bool:
        """Whether the words end in a part ("diathermy quiver"), which is then meant."""
        first = draft.chunks[0]
        if not first.parts or not first.plain_names or first.missing or first.states:
            return False
        words = [
            m
            for m in first.marks
            if m.kind == "word" and m.group not in ("count", "pair", "filler")
        ]
        return bool(words) and words[-1].group == "part" and words[-1].means != "frame"

    def _asks(self, draft: Draft) -> bool:
        return bool(draft.match.ask and draft.match.class_id)

    def _bare_ask(self, draft: Draft) -> bool:
        """A count and a number but no noun ("15 x 2"), or a thread size alone."""
        named = any(c.has_name for c in draft.chunks)
        return not named and any(
            c.designators or c.bare or c.thread_size or c.gauge for c in draft.chunks
        )

    def _is_heading(self, draft: Draft, text: str) -> bool:
        if any(c.counts or c.bare or c.measures or c.designators or c.attrs for c in draft.chunks):
            return False
        letters = [c for c in text if c.isalpha()]
        if text.strip().endswith(":") or (letters and all(c.isupper() for c in letters)):
            last = text.strip(" :").casefold()
            if not text.strip().endswith(":") and not last.endswith("s"):
                return False  # one thing in capitals is a thing
            return bool(draft.tokens) and all(t.cls == "noun" for t in draft.tokens)
        return False


def _not_item(text: str, why: str) -> Reading:
    return Reading(
        text=text, items=(Item(text=text.strip(), kind="not-an-item", why=why),), why=why
    )


def _share_count(items: list[Item], drafts: list[Draft]) -> list[Item]:
    """ "20 blade on 3 handle x1": the count at the end counts the pair."""
    if len(items) != 2 or len(drafts) != 2 or drafts[1].joiner != "on":
        return items
    first, second = items
    if first.quantity is None and second.quantity is not None:
        return [_replace(first, quantity=second.quantity), second]
    if second.quantity is None and first.quantity is not None:
        return [first, _replace(second, quantity=first.quantity)]
    return items


def _replace(item: Item, **changes: object) -> Item:
    from msgspec.structs import replace

    return replace(item, **changes)
