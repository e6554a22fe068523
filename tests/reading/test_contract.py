"""The ``read`` answer of the machine contract."""

from __future__ import annotations

from etui.reading import Reader, read_json

KEYS = {
    "text", "kind", "quantity", "instrument", "parts", "attributes", "alternatives", "why", "items",
}  # fmt: skip


def test_an_answer_has_all_keys(reader: Reader) -> None:
    answer = read_json("Kelly cvd 5 1/2 x4", reader)
    assert set(answer) >= KEYS
    assert answer["instrument"]["id"] == "haemostat-kelly"
    assert answer["instrument"]["name"] in answer["instrument"]["names"]
    assert answer["attributes"]["length_mm"] == 140
    assert answer["quantity"] == 4


def test_sizes_of_one_thing_are_summed_and_common(reader: Reader) -> None:
    answer = read_json("towel clips sm x3 lg x4", reader)
    assert answer["quantity"] == 7
    assert answer["attributes"]["size"] is None
    assert [i["attributes"]["size"] for i in answer["items"]] == ["small", "large"]


def test_parts_that_fit_are_an_assembly(reader: Reader) -> None:
    answer = read_json("No 4 handle with 22 blade", reader)
    assert answer["kind"] == "assembly"
    assert [p["id"] for p in answer["parts"]] == ["scalpel-blade-22"]


def test_two_things_side_by_side_are_no_assembly(reader: Reader) -> None:
    answer = read_json("Deaver 2, Yankauer 1", reader)
    assert answer["kind"] == "instrument"
    assert len(answer["items"]) == 2


def test_a_question_names_its_candidates(reader: Reader) -> None:
    answer = read_json("Gillies x1", reader)
    assert answer["kind"] == "ambiguous"
    assert answer["instrument"] is None
    assert answer["ask"]
    assert {a["id"] for a in answer["alternatives"]} >= {"forceps-gillies", "needle-holder-gillies"}
    assert all(0 <= a["score"] <= 1 for a in answer["alternatives"])


def test_misspellings_are_not_among_the_names(reader: Reader) -> None:
    names = read_json("Metzenbaum scissors", reader)["instrument"]["names"]
    assert "Metzenbaun" not in names


def test_reading_and_reference_do_as_well(reader: Reader) -> None:
    line = "Mixter 9in"
    assert read_json(reader.read(line), reader.reference) == read_json(line, reader)
