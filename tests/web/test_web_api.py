"""The JSON interface says what the library says, by the machine contract."""

from __future__ import annotations

import pytest
from fastapi.testclient import TestClient

from etui.commands.cards import pattern_card
from etui.web.desk import Desk


def test_read_has_the_contract(client: TestClient) -> None:
    answer = client.post("/api/read", json={"text": "2 x curved Kelly 5.5 in"}).json()
    assert answer["instrument"]["id"] == "haemostat-kelly"
    assert answer["quantity"] == 2
    assert answer["attributes"]["curve"] == "curved"
    assert abs(answer["attributes"]["length_mm"] - 140) <= 2
    assert set(answer) >= {
        "text",
        "kind",
        "quantity",
        "instrument",
        "parts",
        "attributes",
        "alternatives",
        "why",
    }


def test_replace_grades_a_candidate_with_reasons(client: TestClient, desk: Desk) -> None:
    question = {
        "procedure": "tube-thoracostomy",
        "step": "tube-thoracostomy/open-pleura",
        "missing": "haemostat-kelly",
        "candidate": "haemostat-kocher",
    }
    answer = client.post("/api/replace", json=question).json()
    assert answer == desk.replace(question)
    assert answer["grade"] == "unsafe"
    assert answer["hazards"] and answer["reasons"]
    assert all(r["how_known"] for r in answer["reasons"])
    assert all(b["grade"] in ("preferred", "acceptable", "improvised") for b in answer["better"])


def test_replace_lists_without_a_candidate(client: TestClient) -> None:
    answer = client.post(
        "/api/replace",
        json={"procedure": "wound-repair", "step": "drive the needle", "missing": "needle holder"},
    ).json()
    assert answer["substitutes"]
    assert answer["grade"] is None


def test_replace_asks_when_the_step_is_not_known(client: TestClient) -> None:
    answer = client.post("/api/replace", json={"step": "fry an egg", "candidate": "Kelly"}).json()
    assert answer["step"] == {"id": None, "name": None}
    assert answer["grade"] is None and answer["asks"] and answer["unresolved"]


def test_check_gives_verdict_findings_and_coverage(client: TestClient) -> None:
    tray = {
        "title": "t",
        "procedures": ["tube thoracostomy"],
        "contents": [{"qty": 1, "text": "Scalpel handle No. 4"}, {"qty": 2, "text": "Blade 10"}],
    }
    answer = client.post("/api/check", json=tray).json()
    assert answer["verdict"] == "unfit"
    assert {"kind", "severity", "text", "fix", "items", "steps", "suggestions", "rule"} <= set(
        answer["findings"][0]
    )
    assert all(
        s["from"] in ("tray", "stock", "reference")
        for f in answer["findings"]
        for s in f["suggestions"]
    )
    assert answer["coverage"] and sum(answer["checked"].values()) > 0


def test_compose_names_lines_in_the_words_of_the_stock(client: TestClient) -> None:
    stock = [
        {"name": "Kelly, the curved one", "count": 2},
        {"name": "Disposable scalpel No 10", "count": 3},
    ]
    answer = client.post(
        "/api/compose", json={"procedures": ["tube-thoracostomy"], "stock": stock}
    ).json()
    assert answer["verdict"] in ("fit", "fit-with-remarks", "unfit")
    assert {line["name"] for line in answer["tray"]} <= {s["name"] for s in stock}
    assert "optimal" in answer["proof"]


def test_compare_takes_names_as_people_say_them(client: TestClient) -> None:
    answer = client.post("/api/compare", json={"a": "Crile forceps", "b": "haemostat-kelly"}).json()
    assert (answer["a"]["id"], answer["b"]["id"]) == ("haemostat-crile", "haemostat-kelly")
    assert answer["resemblance"] == "high"


def test_list_pages_through_every_instrument(client: TestClient, desk: Desk) -> None:
    ids: list[str] = []
    total = 1
    while len(ids) < total:
        page = client.get("/api/instruments", params={"limit": 200, "offset": len(ids)}).json()
        total = page["total"]
        ids += [row["id"] for row in page["items"]]
    assert sorted(ids) == sorted(desk.reference.patterns)


def test_search_needs_every_word(client: TestClient) -> None:
    found = client.get("/api/instruments", params={"q": "long kelly"}).json()["items"]
    assert "haemostat-kelly-long" in [row["id"] for row in found]
    assert "haemostat-kelly" not in [row["id"] for row in found]


def test_instrument_is_the_card_of_the_library(client: TestClient, desk: Desk) -> None:
    answer = client.get("/api/instruments/haemostat-crile").json()
    card = pattern_card(desk.reference, desk.reference.patterns["haemostat-crile"])
    assert answer["offers"] == card["offers"] and answer["steps"] == card["steps"]


@pytest.mark.parametrize("address", [
    "/api", "/api/procedures", "/api/procedures/tube-thoracostomy",
    "/api/steps/tube-thoracostomy/open-pleura", "/api/instruments",
])  # fmt: skip
def test_browsing_answers_json(client: TestClient, address: str) -> None:
    answer = client.get(address)
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "application/json"


def test_every_source_has_an_answer(client: TestClient, desk: Desk) -> None:
    for id_ in sorted(desk.reference.sources)[::40]:
        assert client.get(f"/api/sources/{id_}").json()["title"]


def test_drawing_is_svg_and_takes_a_length(client: TestClient) -> None:
    answer = client.get("/api/instruments/haemostat-kelly/drawing", params={"length_mm": 200})
    assert answer.headers["content-type"].startswith("image/svg+xml")
    assert answer.text.startswith("<svg")


def test_hand_has_no_drawing(client: TestClient, desk: Desk) -> None:
    hand = next(
        p.id for p in desk.reference.patterns.values() if "manoeuvre" in p.features.get("part", ())
    )
    assert client.get(f"/api/instruments/{hand}/drawing").status_code == 404


def test_head_is_get_without_body(client: TestClient) -> None:
    answer = client.head("/api/instruments/haemostat-kelly")
    assert answer.status_code == 200 and answer.content == b""
