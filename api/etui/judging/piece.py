"""What one piece in hand offers, read from its pattern, its form and the attributes on the line.

A :class:`PieceView` answers two questions: which words may a feature of this piece have, and in
which range does a size lie.  Several words mean that the pattern comes in several forms and the
line does not say which; no words mean unknown.  What the line states outranks the pattern.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from etui.judging.words import phrases
from etui.knowledge.model import Form, Offer, Pattern, Range, Reference

if TYPE_CHECKING:
    from etui.judging.rulebook import RuleBook
    from etui.reading.model import Attributes

_OFFER_WORDS = ("tip", "lock", "jaw_surface", "teeth", "handle", "trauma", "fineness")
_LINE_WORDS = ("curve", "teeth", "jaw", "material")


class PieceView:
    """One pattern with the attributes of one line; built once per distinct line, then shared.

    Sizes are millimetres, French, gauge or inner millimetres as the key says.
    """

    __slots__ = (
        "attributes", "book", "build", "family", "form", "id", "length", "measures", "name",
        "never_for", "offers", "offers_by_action", "pattern", "stated", "used_for",
        "words_by_feature",
    )

    def __init__(self, pattern: Pattern, attributes: Attributes, book: RuleBook) -> None:
        self.pattern = pattern
        self.attributes = attributes
        self.book = book
        self.id = pattern.id
        self.name = pattern.name
        self.family = pattern.family
        self.form = _form_in_hand(pattern, attributes)
        self.stated: set[str] = set()
        self.measures = self._measures()
        self.length = self.measures.get("length_mm")
        self.words_by_feature = self._words()
        self.build: dict[str, str] = dict(self.form.words) if self.form is not None else {}
        self.offers = pattern.offers
        self.used_for = phrases(pattern.used_for)
        self.never_for = phrases(pattern.never_for)
        by_action: dict[str, Offer] = {}
        for offer in pattern.offers:
            kept = by_action.get(offer.action)
            if kept is None or book.role_rank(offer) < book.role_rank(kept):
                by_action[offer.action] = offer
        self.offers_by_action = by_action

    def _measures(self) -> dict[str, Range]:
        pattern, line = self.pattern, self.attributes
        sizes: dict[str, Range] = dict(pattern.measures)
        if self.form is not None:
            sizes.update(self.form.measures)
        if pattern.length_mm is not None:
            sizes["length_mm"] = pattern.length_mm
        for key, value in (
            ("length_mm", line.length_mm), ("french", line.french), ("gauge", line.gauge),
        ):
            if value is not None:
                sizes[key] = Range(low=value, high=value)
                self.stated.add(key)
        width = self.book.width_of(line)
        if width is not None:
            sizes["working_width_mm"] = width
            self.stated.add("working_width_mm")
        return sizes

    def _words(self) -> dict[str, frozenset[str]]:
        found: dict[str, frozenset[str]] = {
            key: self.book.opened(values) for key, values in self.pattern.features.items()
        }
        for key in _LINE_WORDS:
            value = getattr(self.attributes, key)
            if value is not None:
                found[key] = frozenset((value,))
                self.stated.add(key)
        form = self.attributes.form
        if form is not None:
            for key in self.book.features_of_form(form):
                known = found.get(key, frozenset())
                # The form word picks among the forms of the pattern (a sharp hook stays a hook);
                # only where none of them is meant does it stand by itself.
                meant = known & (self.book.met_by(key, form) | {form})
                if meant:
                    found[key] = meant
                    self.stated.add(key)
                elif not known:
                    found[key] = frozenset((form,))
                    self.stated.add(key)
        return found

    def offer(self, action: str) -> Offer | None:
        """The best row for *action*, or None when the piece does not offer it."""
        return self.offers_by_action.get(action)

    def words(self, feature: str, offer: Offer | None) -> frozenset[str]:
        """Every word the *feature* may have in this piece; empty when unknown."""
        if feature in self.stated:
            return self.words_by_feature[feature]
        options = self.words_by_feature.get(feature, frozenset())
        if len(options) > 1:
            return options
        if feature in _OFFER_WORDS:
            row = offer if offer is not None else self._main_offer()
            value = getattr(row, feature, None) if row is not None else None
            if value is not None:
                return frozenset((value,))
        if not options and feature in self.build:
            return frozenset((self.build[feature],))
        return options

    def _main_offer(self) -> Offer | None:
        return self.offers[0] if self.offers else None

    def number(self, key: str, offer: Offer | None) -> Range | None:
        """The range in which the size *key* of this piece lies; None when unknown."""
        if key == "length_mm" and key not in self.stated and offer is not None:
            return offer.length_mm or self.length
        return self.measures.get(key)

    def word(self, key: str) -> str | None:
        """The word of a build property (stiffness, guard, edge ...), None when unknown."""
        return self.build.get(key)


def _form_in_hand(pattern: Pattern, attributes: Attributes) -> Form | None:
    wanted = {attributes.form, attributes.size, attributes.material, attributes.teeth} - {None}
    general: Form | None = None
    for form in pattern.forms:
        if form.form and form.form in wanted:
            return form
        if not form.form:
            general = form
    return general


def view(reference: Reference, book: RuleBook, id_: str, attributes: Attributes) -> PieceView:
    """Build the view of pattern *id_*; the caller keeps it for further questions."""
    return PieceView(reference.patterns[id_], attributes, book)
