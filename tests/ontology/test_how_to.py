"""The how-to pages are true: what they tell a clinician to write loads, passes and is judged."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from etui.judging import Candidate, Judge, Piece
from etui.knowledge import load_reference, ontology_dir
from etui.knowledge.model import Reference
from etui.knowledge.record_facts import Files, derive
from etui.knowledge.records import validate
from etui.knowledge.store import turtle_files

DOCS = Path(__file__).parents[2] / "docs" / "how-to"
PAGES = {"add-a-procedure.md": "procedures/knee-tap.ttl", "add-an-instrument.md": "airway-new.ttl"}


def written(page: str) -> str:
    """The Turtle blocks of a page, one after another, as its reader would write them."""
    text = (DOCS / page).read_text(encoding="utf-8")
    return "\n".join(re.findall(r"```turtle\n(.*?)```", text, re.DOTALL))


@pytest.fixture(scope="module")
def enlarged(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the ontology with what both pages tell to write."""
    folder = tmp_path_factory.mktemp("how-to") / "ontology"
    for file in turtle_files(ontology_dir()):
        copy = folder / file.relative_to(ontology_dir())
        copy.parent.mkdir(parents=True, exist_ok=True)
        copy.write_bytes(file.read_bytes())
    for page, name in PAGES.items():
        (folder / name).write_text(written(page), encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def reference(enlarged: Path) -> Reference:
    return load_reference(enlarged, use_cache=False)


def test_no_new_finding_across_records(enlarged: Path) -> None:
    def about(folder: Path) -> set[tuple[str, str, str]]:
        files = Files(turtle_files(folder), base=folder.parent)
        return {
            (subject, name, str(value))
            for subject, name, value in derive(files)
            if name not in ("declaresPrefix",) and ":" not in name
        }

    assert about(enlarged) - about(ontology_dir()) == set()


def test_the_new_records_pass_their_shapes(enlarged: Path) -> None:
    vocabulary = ("core", "actions", "features", "hazards", "tissues", "values", "sources")
    instruments = ("access", "drains", "graspers")
    report = validate(
        [enlarged / name for name in PAGES.values()],
        background=[
            *(enlarged / f"{name}.ttl" for name in vocabulary),
            *(enlarged / "instruments" / f"{name}.ttl" for name in instruments),
        ],
        base=enlarged.parent,
    )
    new = {f"ontology/{name}" for name in PAGES.values()}
    assert [f.line for f in report.findings if f.file in new and f.severity != "info"] == [
        "ontology/airway-new.ttl: laryngoscope-curved: No step judges this pattern and no unit "
        "takes it. Judge it for a step, or leave it out. (Pattern-used)"
    ]


def test_the_new_procedure_is_judged_without_a_line_of_python(reference: Reference) -> None:
    assert reference.procedures["knee-tap"].steps == ("knee-tap/prep", "knee-tap/draw")
    judge = Judge(reference)

    def grade(piece: str) -> str | None:
        answer = judge.judge("knee-tap/draw", Candidate(text=piece, pieces=(Piece(piece),)))
        return answer.grade if answer.grade is not None else answer.careful

    assert grade("needle-hypodermic") in ("preferred", "acceptable")
    assert grade("trocar-cannula") == "unsafe"
    for piece in ("haemostat-kelly", "suction-yankauer", "retractor-langenbeck"):
        assert grade(piece) in ("unable", "unsafe")


def test_the_new_instrument_is_judged_by_its_offers(reference: Reference) -> None:
    assert "laryngoscope-curved" in reference.patterns
    answer = Judge(reference).judge(
        "peritonsillar-abscess-drainage/see",
        Candidate(text="laryngoscope", pieces=(Piece("laryngoscope-curved"),)),
    )
    assert answer.grade in ("preferred", "acceptable", "improvised") and not answer.stated


def test_no_python_names_the_added_procedure_or_its_steps() -> None:
    api = Path(__file__).parents[2] / "api"
    for file in api.rglob("*.py"):
        text = file.read_text(encoding="utf-8").lower()
        assert "peritonsillar" not in text and "quinsy" not in text, file
