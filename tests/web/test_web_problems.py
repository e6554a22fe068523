"""One body for every error, on every route."""

from __future__ import annotations

from typing import Any

import pytest
from fastapi.testclient import TestClient

from etui.web import create_app
from etui.web.desk import Desk
from etui.web.problems import Problem

JSON = {"content-type": "application/json"}


def body_of(answer: Any, status: int) -> dict[str, Any]:
    assert answer.status_code == status, answer.text[:300]
    assert answer.headers["content-type"] == "application/problem+json"
    body: dict[str, Any] = answer.json()
    Problem.model_validate(body, strict=True)
    assert body["status"] == status
    assert "Traceback" not in answer.text
    assert "\n" not in body["detail"]
    return body


@pytest.mark.parametrize("address", [
    "/api/nothing", "/api/instruments/none", "/api/procedures/none", "/api/steps/none/none",
    "/api/sources/none", "/api/instruments?family=none", "/api/instruments/none/drawing",
    "/nothing",
    "/instruments/none", "/drawings/none.svg", "/static/none.css",
])  # fmt: skip
def test_unknown_is_404(client: TestClient, address: str) -> None:
    body_of(client.get(address), 404)


def test_unknown_id_names_the_nearest(client: TestClient) -> None:
    body = body_of(client.get("/api/instruments/haemostat-krile"), 404)
    assert "haemostat-crile" in [n["id"] for n in body["nearest"]]
    body = body_of(client.get("/api/procedures/tube-thoracotomy"), 404)
    assert body["nearest"][0]["id"] == "tube-thoracostomy"


@pytest.mark.parametrize(("method", "address"), [
    ("POST", "/api/instruments"), ("DELETE", "/api/instruments/haemostat-crile"),
    ("PUT", "/api/procedures"), ("GET", "/api/read"), ("PATCH", "/"), ("DELETE", "/check"),
])  # fmt: skip
def test_other_methods_are_405(client: TestClient, method: str, address: str) -> None:
    answer = client.request(method, address)
    body_of(answer, 405)
    assert answer.headers["allow"]


BAD: list[tuple[str, Any]] = [
    ("/api/read", {}),
    ("/api/read", {"text": 3}),
    ("/api/read", {"text": "x" * 5000}),
    ("/api/read", {"text": "a", "more": 1}),
    ("/api/read", []),
    ("/api/replace", {"candidate": 1}),
    ("/api/replace", {"stepp": "x"}),
    ("/api/check", {"contents": []}),
    ("/api/check", {"contents": [{"qty": -1, "text": "Kelly"}]}),
    ("/api/check", {"contents": ["Kelly"]}),
    ("/api/compose", {"procedures": ["tube-thoracostomy"], "stock": []}),
    ("/api/compose", {"procedures": [], "stock": [{"name": "Kelly"}]}),
    ("/api/compare", {"a": "Kelly"}),
]


@pytest.mark.parametrize(("address", "sent"), BAD)
def test_bad_input_is_422_with_one_line(client: TestClient, address: str, sent: Any) -> None:
    body_of(client.post(address, json=sent), 422)


@pytest.mark.parametrize("content", [b"", b"{", b"\xff\xfe", b"[" * 3000, b'{"text": "\\ud800"}'])
def test_broken_json_is_422(client: TestClient, content: bytes) -> None:
    body_of(client.post("/api/read", content=content, headers=JSON), 422)


def test_unknown_procedure_of_a_tray_is_404_with_names(client: TestClient) -> None:
    body = body_of(
        client.post(
            "/api/check",
            json={"procedures": ["fry an egg"], "contents": ["Kelly"]},
        ),
        404,
    )
    assert "procedure" in body["detail"] or body["nearest"]


def test_too_large_is_413_declared_or_not(desk: Desk) -> None:
    client = TestClient(create_app(desk, max_body=1000), raise_server_exceptions=False)
    body_of(client.post("/api/read", json={"text": "x" * 2000}), 413)
    chunks = (b"x" * 300 for _ in range(10))
    body_of(client.post("/api/read", content=chunks, headers=JSON), 413)


def test_a_failure_inside_is_500_without_its_words(desk: Desk) -> None:
    class Failing(Desk):
        def read(self, text: str) -> dict[str, Any]:
            raise RuntimeError(f"secret {text}")

    client = TestClient(create_app(Failing(desk.reference)), raise_server_exceptions=False)
    answer = client.post("/api/read", json={"text": "Kelly"})
    body_of(answer, 500)
    assert "secret" not in answer.text
    assert answer.headers["content-security-policy"]


def test_a_browser_gets_the_problem_as_a_page(client: TestClient) -> None:
    answer = client.get("/instruments/haemostat-krile", headers={"Accept": "text/html"})
    assert answer.status_code == 404
    assert answer.headers["content-type"].startswith("text/html")
    assert "/instruments/haemostat-crile" in answer.text
    # The interface answers JSON whatever the caller would like best.
    body_of(client.get("/api/instruments/none", headers={"Accept": "text/html"}), 404)
