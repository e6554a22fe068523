"""From the statements of the graph to the records of :mod:`etui.knowledge.model`."""

from __future__ import annotations

import re
from collections import defaultdict
from typing import Any, cast

import pyoxigraph as ox

from etui.errors import BadRecord
from etui.knowledge import model as m
from etui.knowledge.store import (
    DCTERMS,
    NS,
    RDF_TYPE,
    RDFS_LABEL,
    RDFS_SUBCLASS,
    SKOS,
    Index,
    View,
    short,
)

PREF, ALT, HIDDEN = SKOS + "prefLabel", SKOS + "altLabel", SKOS + "hiddenLabel"
NOTE, DEFINITION = SKOS + "note", SKOS + "definition"
SOURCE = DCTERMS + "source"
LANG_KIND = {"en-US": "us", "en-GB": "uk"}


def snake(name: str) -> str:
    """``workingWidthMm`` -> ``working_width_mm`` (the names differ in nothing else)."""
    return re.sub(r"(?<!^)([A-Z])", r"_\1", name).lower()


def how(view: View) -> m.HowKnown:
    """How the statement is known; common practice is never assumed.

    Raises:
        BadRecord: If the record does not say.
    """
    word = view.id("howKnown")
    if word not in ("read", "memory", "practice", "derived"):
        raise BadRecord(
            "The record does not say how it is known.",
            where=short(view.iri),
            mend="Add etui:howKnown etui:read, etui:memory or etui:practice.",
        )
    return cast(m.HowKnown, word)


def measures(view: View, *, skip: frozenset[str] = frozenset()) -> dict[str, m.Range]:
    """Every pair of ...Min and ...Max of a subject as a range, keyed by feature name."""
    found: dict[str, m.Range] = {}
    for prop in view.props:
        if not (prop.startswith(NS) and prop.endswith("Min")):
            continue
        stem = prop[len(NS) : -3]
        key = snake(stem)
        low, high = view.number(stem + "Min"), view.number(stem + "Max")
        if low is not None and high is not None and key not in skip:
            found[key] = m.Range(low=low, high=high)
    return found


def names(view: View) -> tuple[m.Name, ...]:
    """All names of a subject, preferred first."""
    out: list[m.Name] = []
    for node in view.nodes(PREF):
        language = node.language if isinstance(node, ox.Literal) else None
        kind = "preferred"
        if language and language.lower() != "en":
            kind = "preferred-" + {"en-us": "us", "en-gb": "uk"}.get(language.lower(), "other")
        out.append(m.Name(text=node.value, kind=kind))
    for node in view.nodes(ALT):
        language = (node.language or "").lower() if isinstance(node, ox.Literal) else ""
        out.append(
            m.Name(text=node.value, kind={"en-us": "us", "en-gb": "uk"}.get(language, "also"))
        )
    out += [m.Name(text=text, kind="trade") for text in view.texts("tradeName")]
    out += [m.Name(text=text, kind="hidden") for text in view.texts(HIDDEN)]
    return tuple(sorted(out, key=lambda n: n.kind != "preferred"))


def label(view: View) -> str:
    """The neutral English name.

    Raises:
        BadRecord: If there is none.
    """
    for prop in (PREF, RDFS_LABEL):
        for node in view.nodes(prop):
            language = node.language if isinstance(node, ox.Literal) else None
            if language in (None, "en"):
                return node.value
    raise BadRecord(
        "The record has no English label.",
        where=short(view.iri),
        mend='Add skos:prefLabel "..."@en.',
    )


class Assembler:
    """Builds all records of one index; child records are grouped by their parent first."""

    def __init__(self, index: Index) -> None:
        self.index = index
        self.families = self._families()
        self.children: dict[str, dict[str, list[str]]] = {}
        for kind, link in (
            ("Offer", "offeredBy"),
            ("Form", "formOf"),
            ("Demand", "demandedBy"),
            ("Judgement", "forStep"),
            ("Technique", "forStep"),
            ("Limit", "limits"),
            ("Step", "stepOf"),
        ):
            grouped: dict[str, list[str]] = defaultdict(list)
            for iri in index.of_type(kind):
                parent = index.at(iri).nodes(link)
                if not parent:
                    raise BadRecord(
                        f"The {kind.lower()} belongs to nothing.",
                        where=short(iri),
                        mend=f"Add etui:{link}.",
                    )
                grouped[parent[0].value].append(iri)
            self.children[kind] = grouped

    def _families(self) -> dict[str, str]:
        """Class IRI -> family word, for every class below Pattern."""
        parents = {
            iri: view.nodes(RDFS_SUBCLASS)
            for iri in self.index.by_type.get("http://www.w3.org/2002/07/owl#Class", [])
            if (view := self.index.at(iri))
        }
        found: dict[str, str] = {}
        frontier = {NS + "Pattern"}
        while frontier:
            below = {
                iri
                for iri, ups in parents.items()
                if any(up.value in frontier for up in ups) and iri not in found
            }
            found.update({iri: snake(short(iri)) for iri in below})
            frontier = below
        return found

    def of(self, kind: str, parent: str) -> list[View]:
        """Child records of *parent*."""
        return [self.index.at(iri) for iri in self.children[kind].get(parent, [])]

    def views(self, kind: str) -> list[View]:
        """Every subject of a class."""
        return [self.index.at(iri) for iri in self.index.of_type(kind)]

    # -- instruments ----------------------------------------------------------------------

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

    # -- procedures -----------------------------------------------------------------------

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

    # -- vocabulary -----------------------------------------------------------------------

    def terms(self) -> dict[str, dict[str, m.Term]]:
        kinds = {
            "Action": "action",
            "Tissue": "tissue",
            "Hazard": "hazard",
            "Value": "value",
            "Ability": "ability",
            "Grade": "grade",
            "Need": "need",
            "Fate": "fate",
            "HowKnown": "how_known",
            "EntryRole": "role",
        }
        out: dict[str, dict[str, m.Term]] = {group: {} for group in kinds.values()}
        for kind, group in kinds.items():
            for view in self.views(kind):
                numbers: dict[str, float] = {}
                for prop in view.props:
                    stem = prop[len(NS) :] if prop.startswith(NS) else ""
                    value = (
                        view.number(stem)
                        if stem.endswith("Rank")
                        or stem.startswith("strengthWhen")
                        or stem == "strength"
                        else None
                    )
                    if value is not None:
                        key = stem.removesuffix("Rank")
                        if key.startswith("strengthWhen"):
                            key = "strength:" + key.removeprefix("strengthWhen").lower()
                        numbers[key] = value
                out[group][short(view.iri)] = m.Term(
                    id=short(view.iri),
                    group=group,
                    name=label(view),
                    definition=view.text(DEFINITION) or "",
                    numbers=numbers,
                    aliases=view.texts(ALT),
                    helped_by=view.ids("helpedBy"),
                    strength_counts=bool(view.flag("strengthCounts")),
                )
        out["family"] = {
            family: m.Term(
                id=family, group="family", name=label(view), definition=view.text(DEFINITION) or ""
            )
            for iri, family in self.families.items()
            if (view := self.index.at(iri))
        }
        return out

    def features(self) -> dict[str, m.Feature]:
        return {
            short(view.iri): m.Feature(
                id=short(view.iri),
                name=label(view),
                compared_as=snake((view.id("comparedAs") or "asWord")[2:]),
                definition=view.text(DEFINITION) or "",
                values=tuple(sorted(view.ids("allowsValue"))),
            )
            for view in self.views("Feature")
        }

    def sources(self) -> dict[str, m.Source]:
        return {
            short(view.iri): m.Source(
                id=short(view.iri),
                title=view.text(DCTERMS + "title") or "",
                kind=snake(view.id("sourceKind") or "text"),
                year=view.text(DCTERMS + "date"),
                address=view.text("address"),
            )
            for view in self.views("Source")
        }

    def contrasts(self) -> tuple[m.Contrast, ...]:
        return tuple(
            m.Contrast(
                id=short(v.iri),
                piece=v.id("piece") or "",
                step_a=v.id("stepA") or "",
                step_b=v.id("stepB") or "",
                difference="|".join(v.ids("difference")),
                because=v.text("because") or "",
                how_known=how(v),
            )
            for v in self.views("Contrast")
        )

    def class_names(self) -> dict[str, m.ClassName]:
        return {
            short(view.iri): m.ClassName(
                id=short(view.iri),
                names=view.texts(PREF) + view.texts(ALT),
                stand_ins={
                    region: pattern
                    for region, prop in (
                        ("", "standsFor"),
                        ("uk", "standsForUK"),
                        ("us", "standsForUS"),
                    )
                    if (pattern := view.id(prop))
                },
                members=view.ids("member"),
                ask=view.text("ask"),
                note=view.text(NOTE),
            )
            for view in self.views("ClassName")
        }

    def abbreviations(self) -> tuple[m.Abbreviation, ...]:
        return tuple(
            m.Abbreviation(
                text=text,
                means=view.text("means") or "",
                group=view.text("group") or "",
                needs=view.text("needsWord"),
                families=view.texts("ofFamily"),
                short_form=view.text("shortForm"),
            )
            for view in self.views("Abbreviation")
            for text in view.texts(PREF) + view.texts(ALT)
        )

    def sizes(self) -> dict[str, m.TradeSize]:
        """Needle gauges and thread sizes in millimetres."""
        out: dict[str, m.TradeSize] = {}
        for view in self.views("GaugeSize"):
            outer = view.number("outerDiameterMm") or 0.0
            out[short(view.iri)] = m.TradeSize(
                id=short(view.iri),
                kind="gauge",
                word=view.text("gauge") or "",
                outer_mm=m.Range(low=outer, high=outer),
                inner_mm=view.number("innerDiameterMm"),
                how_known=how(view),
                source=view.id(SOURCE),
            )
        for view in self.views("ThreadSize"):
            width = measures(view).get("diameter_mm")
            metric = view.number("metricSize")
            if width is None:
                width = m.Range(low=(metric or 0) / 10, high=(metric or 0) / 10)
            out[short(view.iri)] = m.TradeSize(
                id=short(view.iri),
                kind="thread",
                word=view.text("usp") or "",
                outer_mm=width,
                metric=metric,
                rank=view.number("thicknessRank"),
                how_known=how(view),
                source=view.id(SOURCE),
            )
        return out

    def matches(self) -> dict[str, tuple[m.Match, ...]]:
        """Published ids that a term, family or pattern answers to."""
        out: dict[str, tuple[m.Match, ...]] = {}
        for iri, props in self.index.subjects.items():
            found = []
            for relation in ("exact", "close", "broad", "narrow"):
                for node in props.get(f"{SKOS}{relation}Match", []):
                    view = self.index.at(node.value)
                    target = view.text(SKOS + "notation") or node.value.rsplit("/", 1)[-1]
                    name = label(view) if view.props else ""
                    found.append(m.Match(relation=relation, target=target, name=name))
            if found:
                out[self.families.get(iri, short(iri))] = tuple(found)
        return out

    def abilities(self) -> dict[str, tuple[str, ...]]:
        found: dict[str, list[str]] = defaultdict(list)
        for iri, props in self.index.subjects.items():
            for node in props.get(NS + "able", []):
                found[short(node.value)].append(short(iri))
        return {ability: tuple(sorted(ids)) for ability, ids in sorted(found.items())}


def assemble(index: Index, version: str) -> m.Reference:
    """Build the whole reference from an index.

    Raises:
        BadRecord: If a record lacks what no reader can do without (label, how known, parent).
    """
    a = Assembler(index)
    procedures, steps = a.procedures()
    manoeuvres = {
        short(v.iri): m.Manoeuvre(id=short(v.iri), name=label(v), names=names(v))
        for v in a.views("Manoeuvre")
        if v.nodes(RDF_TYPE)
    }
    return m.Reference(
        version=version,
        patterns=a.patterns(),
        units=a.units(),
        manoeuvres=manoeuvres,
        manners=a.manners(),
        procedures=procedures,
        steps=steps,
        sources=a.sources(),
        features=a.features(),
        terms=a.terms(),
        contrasts=a.contrasts(),
        class_names=a.class_names(),
        abbreviations=a.abbreviations(),
        sizes=a.sizes(),
        matches=a.matches(),
        abilities=a.abilities(),
    )
