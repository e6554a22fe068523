"""Procedures with their steps, demands, limits and judgements as records."""

from __future__ import annotations

from typing import Any, cast

from etui.knowledge import model as m
from etui.knowledge.fields import (
    DEFINITION,
    NOTE,
    SOURCE,
    Fields,
    how,
    label,
    measures,
    names,
    snake,
)
from etui.knowledge.store import SKOS, View, short


class ProcedureRecords(Fields):
    """Builds the records of procedures."""

    def demand(self, view: View) -> m.Demand:
        comparison = snake(view.id("comparison") or "")
        values = view.texts("value")
        if comparison == "between":
            values = (view.text("valueMin") or "", view.text("valueMax") or "")
        return m.Demand(
            id=short(view.iri),
            level=cast(Any, view.id("level")),
            feature=view.id("feature") or "",
            compare={"is_equal": "is", "is_not": "not"}.get(comparison, comparison),
            values=values,
            because=view.text("because"),
            hazard=view.id("hazard"),
            condition=view.text("condition"),
            about="conduct" if view.id("about") == "aboutConduct" else "instrument",
        )

    def judgement(self, view: View) -> m.Judgement:
        return m.Judgement(
            id=short(view.iri),
            step=view.id("forStep") or "",
            subject=view.id("judges") or "",
            grade=cast(m.Grade, view.id("grade")),
            because=view.text("because"),
            hazard=view.id("hazard"),
            role=view.id("role"),
            as_action=view.id("asAction"),
            with_partner=view.ids("withPartner"),
            features_only=bool(view.flag("featuresOnly")),
            condition=view.text("condition"),
            how_known=how(view),
            source=view.id(SOURCE),
            sources=view.ids(SOURCE),
            change_note=view.text(SKOS + "changeNote"),
        )

    def technique(self, view: View) -> m.Technique:
        return m.Technique(
            id=short(view.iri),
            step=view.id("forStep") or "",
            technique=label(view),
            names=names(view),
            manners=view.ids("manner"),
            grade=cast(m.Grade, view.id("grade")),
            hazard=view.id("hazard"),
            because=view.text("because"),
            how_known=how(view),
            source=view.id(SOURCE),
        )

    def limit(self, view: View) -> m.Limit:
        words = (
            "forceNeeded",
            "stiffnessNeeded",
            "alreadyOpen",
            "entry",
            "leftIn",
            "mustBeCounted",
            "oxygenOrAlcoholNear",
            "whoHolds",
            "handsFreeAfter",
        )
        said = {snake(w): word for w in words if (word := view.id(w))}
        said |= {snake(w): text for w in ("ordinaryState", "hardState") if (text := view.text(w))}
        return m.Limit(
            id=short(view.iri),
            step=view.id("limits") or "",
            approaches=tuple(a.rsplit("/", 1)[-1] for a in view.ids("onApproach")),
            patient=view.id("patient"),
            site=view.text("site"),
            measures=measures(view),
            words=said,
            permitted_trauma=view.ids("permitsTrauma"),
            vital_near=view.ids("vitalNear"),
            guard_required=view.ids("guardRequired"),
            side_tasks=tuple(
                cast("tuple[str, str]", tuple(t.split(":", 1))) for t in view.texts("sideTask")
            ),
            how_known=how(view),
            note=view.text(NOTE),
        )

    def dispute(self, iri: str) -> m.Dispute:
        view = self.index.at(iri)
        return m.Dispute(
            question=view.text("question") or "", sides=view.texts("side"), source=view.id(SOURCE)
        )

    def partner(self, iri: str) -> m.Partner:
        view = self.index.at(iri)
        return m.Partner(
            item=label(view),
            step=view.id("forStep"),
            note=view.text(NOTE),
            subjects=view.ids("subject"),
        )

    def reason(self, iri: str) -> m.Reason:
        view = self.index.at(iri)
        return m.Reason(subject=view.id("subject") or "", because=view.text("because") or "")

    def risk(self, iri: str) -> m.AtRisk:
        view = self.index.at(iri)
        return m.AtRisk(
            tissue=view.id("tissue") or "",
            how=view.text("harm") or "",
            guard=view.text("guardedBy") or "",
        )

    def step(self, view: View) -> m.Step:
        strength = view.number("strength")
        family = view.nodes("firstLineFamily")
        return m.Step(
            id=short(view.iri),
            procedure=view.id("stepOf") or "",
            order=int(view.number("stepOrder") or 0),
            name=label(view),
            names=tuple(n for n in names(view) if n.kind != "preferred"),
            action=view.id("action") or "",
            target=view.id("target") or "",
            fate=view.id("fate") or "",
            need=cast(m.Need, view.id("need")),
            approaches=tuple(a.rsplit("/", 1)[-1] for a in view.ids("onApproach")),
            when=view.text("when"),
            target_state=view.ids("targetState"),
            at_risk=tuple(self.risk(n.value) for n in view.nodes("atRisk")),
            depth=view.id("depth"),
            strength=None if strength is None else int(strength),
            coarsest=view.id("coarsest"),
            finest=view.id("finest"),
            permitted_trauma=view.ids("permitsTrauma"),
            demands=tuple(self.demand(v) for v in self.of("Demand", view.iri)),
            pieces_together=int(view.number("piecesTogether") or 1),
            stays_in_until=view.id("staysInUntil") or view.text("staysInUntilText"),
            drop_prone=bool(view.flag("dropProne")),
            note=view.text(NOTE),
            partners=tuple(self.partner(n.value) for n in view.nodes("partner")),
            consumables=view.texts("alsoUses"),
            disputes=tuple(self.dispute(n.value) for n in view.nodes("dispute")),
            judgements=tuple(self.judgement(v) for v in self.of("Judgement", view.iri)),
            techniques=tuple(self.technique(v) for v in self.of("Technique", view.iri)),
            limits=tuple(self.limit(v) for v in self.of("Limit", view.iri)),
            works_on=view.ids("worksOn"),
            must_spare=view.ids("mustSpare"),
            set=view.id("usualSet"),
            room_mm=measures(view).get("room_mm"),
            patient=view.id("patient"),
            order_word=view.id("orderWord"),
            place=view.id("place"),
            family_first_line=snake(short(family[0].value)) if family else None,
            like_steps=view.ids("likeStep"),
            like_same_procedure=view.ids("likeSameProcedure"),
            akin_steps=view.ids("akinStep"),
            other_is=view.text("otherIs"),
            citations=tuple(m.Citation(how_known=how(view), source=s) for s in view.ids(SOURCE))
            or (m.Citation(how_known=how(view)),),
        )

    def procedures(self) -> tuple[dict[str, m.Procedure], dict[str, m.Step]]:
        procedures: dict[str, m.Procedure] = {}
        steps: dict[str, m.Step] = {}
        for view in self.views("Procedure"):
            own = sorted(
                (self.step(v) for v in self.of("Step", view.iri)), key=lambda s: (s.order, s.id)
            )
            steps.update({s.id: s for s in own})
            ways = sorted(
                (self.index.at(n.value) for n in view.nodes("approach")),
                key=lambda v: v.number("approachOrder") or 0,
            )
            procedures[short(view.iri)] = m.Procedure(
                id=short(view.iri),
                name=label(view),
                purpose=view.text(DEFINITION) or "",
                names=names(view),
                done_by=view.text("doneBy"),
                cautions=view.texts("caution"),
                approaches=tuple(
                    m.Approach(id=short(w.iri).rsplit("/", 1)[-1], name=label(w), note=w.text(NOTE))
                    for w in ways
                ),
                kept_alongside=view.texts("keptAlongside"),
                steps=tuple(s.id for s in own),
                redundancy=tuple(self.reason(n.value) for n in view.nodes("spareFor")),
                order_of_use=view.text("orderOfUse"),
                not_wanted=tuple(self.reason(n.value) for n in view.nodes("notWanted")),
                secondary_uses=view.texts("secondaryUse"),
                disputes=tuple(self.dispute(n.value) for n in view.nodes("dispute")),
                how_counted=view.texts("howCounted"),
                citations=tuple(m.Citation(how_known="read", source=s) for s in view.ids(SOURCE)),
            )
        return procedures, steps
