"""Turtle by Accept and by ?format=, with caches told to look at Accept."""

from __future__ import annotations

import pyoxigraph as ox
import pytest
from fastapi.testclient import TestClient

ID = "https://w3id.org/etui/id/"


def triples(body: bytes) -> list[ox.Quad]:
    return list(ox.parse(input=body, format=ox.RdfFormat.TURTLE))


@pytest.mark.parametrize("address", [
    "/api/instruments/haemostat-crile", "/api/procedures/tube-thoracostomy",
    "/api/steps/tube-thoracostomy/open-pleura",
])  # fmt: skip
def test_turtle_by_accept_and_by_format(client: TestClient, address: str) -> None:
    by_accept = client.get(address, headers={"Accept": "text/turtle;q=0.9, application/json;q=0.5"})
    by_format = client.get(address, params={"format": "ttl"})
    assert by_accept.headers["content-type"].startswith("text/turtle")
    assert by_accept.content == by_format.content
    assert by_accept.headers["vary"] == by_format.headers["vary"] == "Accept"
    assert len(triples(by_accept.content)) > 5


def test_json_is_the_default_and_format_overrules_accept(client: TestClient) -> None:
    address = "/api/instruments/haemostat-crile"
    for headers in (
        {},
        {"Accept": "*/*"},
        {"Accept": "application/json, text/turtle;q=0.2"},
        {"Accept": ";;;q=x"},
    ):
        answer = client.get(address, headers=headers)
        assert answer.headers["content-type"] == "application/json"
        assert answer.headers["vary"] == "Accept"
    answer = client.get(address, params={"format": "json"}, headers={"Accept": "text/turtle"})
    assert answer.headers["content-type"] == "application/json"


def test_turtle_holds_the_thing_and_its_parts_and_nothing_else(client: TestClient) -> None:
    body = client.get("/api/instruments/haemostat-kelly", params={"format": "ttl"}).content
    tails = {q.subject.value.removeprefix(ID).split("/")[-1] for q in triples(body)}
    assert "haemostat-kelly" in tails
    assert all(t == "haemostat-kelly" or t.startswith("haemostat-kelly.") for t in tails)
