"""Every page answers, carries the limits, and says what the graph says."""

from __future__ import annotations

import re
from html import unescape
from html.parser import HTMLParser

import pytest
from fastapi.testclient import TestClient

from etui.web.desk import Desk

PAGES = [
    "/", "/?procedure=tube-thoracostomy&step=open+the+pleura&missing=Kelly&candidate=Kocher",
    "/?procedure=wound-repair&step=drive+the+needle&missing=needle+holder",
    "/?step=fry+an+egg&candidate=spoon", "/check", "/check?procedure=wound-repair", "/compose",
    "/instruments", "/instruments?q=kelly", "/instruments?family=scissors", "/instruments?q=zzzz",
    "/instruments/haemostat-crile", "/procedures", "/procedures/tube-thoracostomy",
    "/procedures/tube-thoracostomy/steps/open-pleura", "/compare",
    "/compare?a=haemostat-crile&b=haemostat-kocher", "/about", "/problems",
    "/drill", "/drill?n=3&answer=first",
]  # fmt: skip


class Outline(HTMLParser):
    """What a page is made of: headings, ids, links, labels, controls, images."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.headings: list[int] = []
        self.ids: list[str] = []
        self.links: list[str] = []
        self.labelled: set[str] = set()
        self.controls: list[dict[str, str | None]] = []
        self.images: list[dict[str, str | None]] = []
        self.tags: list[str] = []
        self.outside: list[str] = []
        self._in_label = 0
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        self.tags.append(tag)
        if re.fullmatch(r"h[1-6]", tag):
            self.headings.append(int(tag[1]))
        if given.get("id"):
            self.ids.append(str(given["id"]))
        if tag == "a" and given.get("href"):
            self.links.append(str(given["href"]))
        for name in ("src", "href", "action"):
            value = given.get(name) or ""
            if value.startswith(("http:", "https:", "//")) and tag != "a":
                self.outside.append(value)
        if "style" in given or any(n.startswith("on") for n in given):
            self.outside.append(f"inline {tag}")
        if tag == "label":
            self._in_label += 1
            if given.get("for"):
                self.labelled.add(str(given["for"]))
        if tag in ("input", "select", "textarea") and given.get("type") != "hidden":
            self.controls.append(given | {"wrapped": "yes" if self._in_label else None})
        if tag == "img":
            self.images.append(given)

    def handle_endtag(self, tag: str) -> None:
        if tag == "label":
            self._in_label -= 1


@pytest.mark.parametrize("address", PAGES)
def test_page_is_sound(client: TestClient, address: str) -> None:
    answer = client.get(address)
    assert answer.status_code == 200
    page = Outline(answer.text)
    assert page.headings[0] == 1 and page.headings.count(1) == 1
    assert all(b - a <= 1 for a, b in zip(page.headings, page.headings[1:], strict=False))
    assert len(page.ids) == len(set(page.ids))
    assert not page.outside, page.outside
    assert {"header", "main", "nav", "footer"} <= set(page.tags)
    assert '<html lang="en-GB">' in answer.text and 'href="#main"' in answer.text
    for control in page.controls:
        assert control.get("wrapped") or control.get("id") in page.labelled, control
    assert all("alt" in image for image in page.images)
    assert "licensed judgement prevail" in answer.text


@pytest.mark.parametrize("address", PAGES)
def test_links_of_a_page_lead_somewhere(client: TestClient, address: str) -> None:
    page = Outline(client.get(address).text)
    for link in sorted({unescape(x) for x in page.links if x.startswith("/")})[:60]:
        target, _, mark = link.partition("#")
        answer = client.get(target)
        assert answer.status_code == 200, link
        assert not mark or f'id="{mark}"' in answer.text


def test_every_instrument_has_a_page_that_says_never_first(client: TestClient, desk: Desk) -> None:
    for id_, pattern in sorted(desk.reference.patterns.items())[::9]:
        page = client.get(f"/instruments/{id_}")
        assert page.status_code == 200
        text = unescape(page.text)
        assert pattern.name in text
        for words in pattern.never_for:
            assert words in text
            assert text.index(words) < text.index("What it is for")


def test_every_procedure_and_step_has_a_page(client: TestClient, desk: Desk) -> None:
    for procedure in desk.reference.procedures.values():
        text = unescape(client.get(f"/procedures/{procedure.id}").text)
        places = [text.index(f'id="{s.partition("/")[2]}"') for s in procedure.steps]
        assert places == sorted(places), "steps stand in the order of the operation"
        assert all(c in text for c in procedure.cautions)
    for step in list(desk.reference.steps.values())[::7]:
        head, _, tail = step.id.partition("/")
        page = client.get(f"/procedures/{head}/steps/{tail}")
        assert page.status_code == 200
        assert all(unescape(j.because) in unescape(page.text) for j in step.judgements if j.because)


def test_answer_is_a_word_and_a_mark_with_hazards_first(client: TestClient) -> None:
    text = client.get(PAGES[1]).text
    assert "Do not use" in text
    assert text.index("Hazards") < text.index(">Why<") < text.index("Better, if it is there")


def test_check_shows_findings_coverage_and_doubtful_lines(client: TestClient) -> None:
    text = unescape(
        client.post(
            "/check",
            data={
                "procedure": ["tube-thoracostomy"],
                "text": "1 Scalpel handle No. 4\n1 wibble wobble thing\n2 gauze swabs",
            },
        ).text
    )
    assert "Not fit" in text
    assert "wibble wobble thing" in text and "Not known" in text
    assert text.index("How the lines were read") > text.index("In order of the operation")


def test_check_takes_a_file_and_offers_procedures_for_a_misspelt_one(client: TestClient) -> None:
    sheet = b"Procedure: tube thorakostomie\nqty,item\n2,Kelly forceps\n"
    answer = client.post("/check", files={"file": ("list.csv", sheet, "text/csv")})
    assert answer.status_code in (200, 404, 422)
    assert "thoracostomy" in answer.text.lower()


def test_check_without_a_list_says_what_to_do(client: TestClient) -> None:
    answer = client.post("/check", data={"text": "  "})
    assert answer.status_code == 422
    assert "There is no list. Paste one, or choose a file." in answer.text


def test_text_from_outside_is_escaped(client: TestClient) -> None:
    attack = '<script>alert(1)</script>"><img src=x onerror=alert(1)>'
    for answer in (
        client.get("/", params={"step": attack, "candidate": attack}),
        client.get("/compare", params={"a": attack, "b": attack}),
        client.get("/instruments", params={"q": attack}),
        client.post(
            "/check", data={"text": attack, "title": attack, "procedure": ["wound-repair"]}
        ),
    ):
        assert "<script>alert" not in answer.text
        assert "<img src=x" not in answer.text


def test_compose_page_says_what_to_obtain(client: TestClient) -> None:
    text = client.post(
        "/compose",
        data={"procedure": ["tube-thoracostomy"], "stock": "2 Kelly forceps\n1 Blade 10"},
    ).text
    assert "Gaps" in text and "Obtain" in text


def test_drill_gives_nothing_away_and_is_fair(client: TestClient) -> None:
    first = 0
    questions = range(1, 41)
    for n in questions:
        text = unescape(client.get("/drill", params={"n": n}).text)
        found = re.search(r"<h1>Which is the (.*)\?</h1>", text)
        assert found
        asked = found[1]
        assert text.count(asked) == 1
        answered = client.get("/drill", params={"n": n, "answer": "first"}).text
        first += ">Right<" in answered
        other = client.get("/drill", params={"n": n, "answer": "second"}).text
        assert (">Right<" in answered) != (">Right<" in other)
        # The side that is called right carries the name that was asked for.
        side = "first" if ">Right<" in answered else "second"
        assert re.search(rf'id="side-{side}"><a [^>]*>{re.escape(asked)}</a>', unescape(answered))
    assert 0.25 < first / len(questions) < 0.75


@pytest.mark.parametrize(("name", "content", "word"), [
    ("a.xlsx", b"PK\x03\x04junk", "workbook"), ("a.ttl", b"@prefix x: <", "Turtle"),
    ("a.csv", b"", "empty"), ("a.csv", b"qty,item\n-1,Kelly\n", "quantity"),
    ("a.pdf", b"%PDF-1.4 \x00\xff", "PDF"),
])  # fmt: skip
def test_a_bad_file_is_told_in_one_line(
    client: TestClient, name: str, content: bytes, word: str
) -> None:
    answer = client.post(
        "/check", data={"procedure": ["wound-repair"]}, files={"file": (name, content)}
    )
    assert answer.status_code == 422
    told = re.search(r"could not be taken</h2>\s*<p>(.*?)</p>", answer.text)
    assert told and told[1].startswith(name) and word in told[1]


def test_a_very_long_list_is_answered(client: TestClient) -> None:
    answer = client.post(
        "/check",
        data={"procedure": ["wound-repair"]},
        files={"file": ("long.txt", b"1 Kelly forceps\n" * 10_000)},
    )
    assert answer.status_code == 200
    assert "further lines are not shown" in answer.text
    assert len(answer.content) < 2_000_000
