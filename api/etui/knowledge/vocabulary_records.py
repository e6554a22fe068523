"""Terms, features, sources, sizes and the words of reading as records."""

from __future__ import annotations

from collections import defaultdict

from etui.knowledge import model as m
from etui.knowledge.fields import (
    ALT,
    DEFINITION,
    NOTE,
    PREF,
    SOURCE,
    Fields,
    how,
    label,
    measures,
    snake,
)
from etui.knowledge.store import DCTERMS, NS, SKOS, short


class VocabularyRecords(Fields):
    """Builds the records of the vocabulary."""

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
