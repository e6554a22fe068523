"""Patterns, units and manners as records."""

from __future__ import annotations

from typing import cast

from etui.knowledge import model as m
from etui.knowledge.fields import DEFINITION, NOTE, SOURCE, Fields, how, label, measures, names
from etui.knowledge.store import DCTERMS, View, short


class InstrumentRecords(Fields):
    """Builds the records of instruments."""

    def citation(self, iri: str) -> m.Citation:
        view = self.index.at(iri)
        return m.Citation(how_known=how(view), source=view.id(SOURCE), covers=view.text("covers"))

    def offer(self, view: View) -> m.Offer:
        feats = {key: words[0] for key, words in view.features()}
        strength = view.number("strength")
        return m.Offer(
            action=view.id("action") or "",
            strength=None if strength is None else int(strength),
            length_mm=measures(view).get("length_mm"),
            both_hands=view.flag("bothHands"),
            part_complete=view.text("partComplete"),
            role=view.id("offerRole"),
            limits=view.text("limit"),
            how_known=how(view),
            **{
                key: feats.get(key)
                for key in ("fineness", "trauma", "tip", "lock", "jaw_surface", "teeth", "handle")
            },
        )

    def form(self, view: View) -> m.Form:
        return m.Form(
            form=view.text("formWord") or "",
            measures=measures(view),
            words={key: words[0] for key, words in view.features()},
            how_known=how(view),
            source=view.id(SOURCE),
            note=view.text(NOTE),
        )

    def pattern(self, iri: str, family: str) -> m.Pattern:
        view = self.index.at(iri)
        sizes = measures(view)
        return m.Pattern(
            id=short(iri),
            name=label(view),
            family=family,
            definition=view.text(DEFINITION) or "",
            names=names(view),
            features=dict(view.features()),
            length_mm=sizes.pop("length_mm", None),
            whole_span_mm=sizes.pop("whole_span_mm", None),
            measures=sizes,
            used_for=view.texts("usedFor"),
            never_for=view.texts("neverFor"),
            confused_with=tuple(sorted(view.ids("confusedWith"))),
            pairs_with=view.texts("pairsWith"),
            care=view.id("care"),
            made_for=view.ids("madeFor"),
            not_for=view.ids("notFor"),
            belongs_to=view.ids("belongsTo"),
            patient=view.id("patient"),
            whole_piece_size=view.id("wholePieceSize"),
            place=view.ids("place"),
            order_of_use=view.id("orderOfUse"),
            skill=view.id("skill"),
            purpose_note=view.text("purposeNote"),
            offers=tuple(self.offer(v) for v in self.of("Offer", iri)),
            forms=tuple(self.form(v) for v in self.of("Form", iri)),
            citations=tuple(self.citation(n.value) for n in view.nodes("citation")),
            replaced_by=view.id(DCTERMS + "isReplacedBy"),
            near_twins=view.ids("nearTwin"),
        )

    def patterns(self) -> dict[str, m.Pattern]:
        return {
            short(iri): self.pattern(iri, family)
            for cls, family in self.families.items()
            for iri in self.index.by_type.get(cls, [])
        }

    def units(self) -> dict[str, m.Unit]:
        out: dict[str, m.Unit] = {}
        for view in self.views("Unit"):
            slots = sorted(
                (self.index.at(n.value) for n in view.nodes("slot")),
                key=lambda v: v.number("slotOrder") or 0,
            )
            strength = view.number("strength")
            out[short(view.iri)] = m.Unit(
                id=short(view.iri),
                name=label(view),
                slots=tuple(
                    m.Slot(
                        name=label(s),
                        alternatives=s.ids("takes"),
                        count=int(s.number("pieces") or 1),
                        without=cast("m.Grade | None", s.id("gradeWithout")),
                    )
                    for s in slots
                ),
                actions=view.ids("action"),
                strength=None if strength is None else int(strength),
                when_missing=view.text("whenMissing") or "",
                stand_ins=tuple(
                    self._stand_in(self.index.at(n.value)) for n in view.nodes("standIn")
                ),
                note=view.text(NOTE),
                how_known=how(view),
            )
        return out

    def _stand_in(self, view: View) -> m.StandIn:
        return m.StandIn(
            part=view.text("forPart") or "whole",
            grade=cast(m.Grade, view.id("grade")),
            text=label(view),
            subject=view.id("subject"),
            count=int(view.number("pieces") or 1),
            note=view.text(NOTE),
        )

    def manners(self) -> dict[str, m.Manner]:
        return {
            short(view.iri): m.Manner(
                id=short(view.iri),
                name=label(view),
                meaning=view.text(DEFINITION) or "",
                names=names(view),
                said_of=view.texts("saidOf"),
                said_how=view.texts("saidHow"),
                about_piece=view.flag("aboutPiece") is True,
                hazards_add=view.ids("addsHazard"),
                hazards_remove=view.ids("removesHazard"),
                strength_change=int(view.number("strengthChange") or 0),
                fineness_change=int(view.number("finenessChange") or 0),
                trauma_becomes=view.text("traumaBecomes"),
                cap=cast("m.Grade | None", view.id("capsAt")),
                cap_text=view.text("capText"),
                effects={
                    key: text
                    for key, prop in (
                        ("needs", "needs"),
                        ("limit", "limit"),
                        ("effect", "effect"),
                        ("actions", "actions"),
                        ("tip_becomes", "tipBecomes"),
                    )
                    if (text := view.text(prop))
                },
            )
            for view in self.views("Manner")
        }
