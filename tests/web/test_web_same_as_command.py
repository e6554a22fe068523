"""HTTP and the command line give the same JSON."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from etui.cli import run


@pytest.fixture
def command(capsys: pytest.CaptureFixture[str]) -> Callable[..., str]:
    def said(*words: str) -> str:
        code = run(list(words))
        out, err = capsys.readouterr()
        assert code in (0, 1), err
        return out

    return said


@pytest.mark.parametrize("text", ["2 x curved Kelly 5.5 in", "scissors", "wibble wobble"])
def test_read(client: TestClient, command: Callable[..., str], text: str) -> None:
    assert client.post("/api/read", json={"text": text}).json() == json.loads(
        command("read", "--json", text)
    )


def test_compare(client: TestClient, command: Callable[..., str]) -> None:
    pair = {"a": "haemostat-crile", "b": "haemostat-kocher"}
    said = command("compare", "--json", pair["a"], pair["b"])
    assert client.post("/api/compare", json=pair).json() == json.loads(said)


def test_replace(client: TestClient, command: Callable[..., str], tmp_path: Path) -> None:
    questions = [
        {"procedure": "tube-thoracostomy", "step": "open the pleura", "candidate": "Kocher"},
        {"procedure": "wound-repair", "step": "drive the needle", "missing": "needle holder"},
        {"step": "fry an egg", "candidate": "spoon"},
    ]
    file = tmp_path / "questions.jsonl"
    file.write_text("\n".join(json.dumps(q) for q in questions))
    lines = [json.loads(x) for x in command("replace", "--batch", str(file)).splitlines()]
    assert lines == [client.post("/api/replace", json=q).json() for q in questions]


@pytest.mark.parametrize("as_file", [True, False])
def test_check(
    client: TestClient, command: Callable[..., str], tmp_path: Path, as_file: bool
) -> None:
    tray = {
        "title": "Store",
        "procedures": ["tube-thoracostomy"],
        "operator": None,
        "contents": [{"qty": 2, "text": "Kelly forceps"}, {"qty": 1, "text": "Blade 10"}],
    }
    file = tmp_path / "tray.json"
    file.write_text(json.dumps(tray))
    said = json.loads(command("check", "--json", str(file)))
    if as_file:
        answer = client.post("/api/check/file", files={"file": (str(file), file.read_bytes())})
    else:
        answer = client.post("/api/check", json=tray)
    got = answer.json()
    for one in (said, got):
        one.pop("read", None)
        for finding in one["findings"]:
            finding.pop("place", None)  # a file here, a request there
    assert got == said


def test_check_as_turtle_is_a_report(client: TestClient) -> None:
    import rdflib

    answer = client.post(
        "/api/check",
        json={"procedures": ["tube-thoracostomy"], "contents": ["Kelly forceps"]},
        headers={"Accept": "text/turtle"},
    )
    assert answer.headers["content-type"].startswith("text/turtle")
    graph = rdflib.Graph().parse(data=answer.text, format="turtle")
    shacl = rdflib.Namespace("http://www.w3.org/ns/shacl#")
    assert list(graph.subjects(rdflib.RDF.type, shacl.ValidationReport))
