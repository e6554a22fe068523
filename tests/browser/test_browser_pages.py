"""Pages in a real browser: widths, keyboard, no script, no outside, contrast, forms."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, BrowserContext, Page, Route

pytestmark = pytest.mark.browser

SIZES = {"phone": (390, 844), "desktop": (1280, 900)}
PAGES = {
    "ask": "/",
    "answer": "/?procedure=tube-thoracostomy&step=open+the+pleura&missing=Kelly&candidate=Kocher",
    "stand-ins": "/?procedure=wound-repair&step=drive+the+needle&missing=needle+holder",
    "not-understood": "/?step=fry+an+egg&candidate=spoon",
    "check": "/check",
    "compose": "/compose",
    "instruments": "/instruments",
    "family": "/instruments?family=haemostat",
    "instrument": "/instruments/haemostat-kelly",
    "no-shape": "/instruments/sharps-container",
    "procedures": "/procedures",
    "procedure": "/procedures/tube-thoracostomy",
    "step": "/procedures/tube-thoracostomy/steps/open-pleura",
    "compare": "/compare?a=haemostat-kelly&b=haemostat-kocher",
    "about": "/about",
    "drill": "/drill?n=5",
    "drilled": "/drill?n=5&answer=first",
    "problem": "/instruments/none",
}
TRAY = """Chest drain tray, Saltmarsh Ferry Hospital
1 Scalpel handle No. 4
2 Blade 10
2 Kelly forceps curved 5 1/2"
2 chest drain 28 Fr
1 wibble wobble thing"""


class Seen:
    """What a context asked for and what went wrong in it."""

    def __init__(self, context: BrowserContext, site: str) -> None:
        self.outside: list[str] = []
        self.errors: list[str] = []

        def pass_or_stop(route: Route) -> None:
            if route.request.url.startswith(site):
                route.continue_()
            else:
                self.outside.append(route.request.url)
                route.abort()

        context.route("**/*", pass_or_stop)
        context.on("weberror", lambda e: self.errors.append(str(e.error)))
        context.on(
            "console",
            lambda m: m.type == "error" and "404" not in m.text and self.errors.append(m.text),
        )


def opened(browser: Browser, site: str, size: str, **how: Any) -> tuple[Page, Seen]:
    width, height = SIZES[size]
    context = browser.new_context(viewport={"width": width, "height": height}, **how)
    seen = Seen(context, site)
    page = context.new_page()
    page.set_default_timeout(30_000)
    return page, seen


@pytest.fixture(params=SIZES)
def size(request: pytest.FixtureRequest) -> str:
    return str(request.param)


@pytest.fixture
def page(browser: Browser, site: str, size: str) -> Iterator[Page]:
    page, seen = opened(browser, site, size)
    yield page
    assert seen.outside == []
    assert seen.errors == []
    page.context.close()


@pytest.mark.parametrize("name", PAGES)
def test_page_fits_its_width_and_stays_on_loopback(page: Page, site: str, name: str) -> None:
    page.goto(site + PAGES[name], wait_until="networkidle")
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")
    wide = page.evaluate(
        """() => [...document.querySelectorAll('main *')]
        .filter(e => e.getBoundingClientRect().right > window.innerWidth + 1)
        .map(e => e.outerHTML.slice(0, 80))"""
    )
    assert wide == []


# Contrast hangs on the scheme and order on the width: each scheme is looked at in one width.
@pytest.mark.parametrize(("size", "scheme"), [("phone", "light"), ("desktop", "dark")])
@pytest.mark.parametrize("name", PAGES)
def test_axe_finds_nothing(browser: Browser, site: str, size: str, name: str, scheme: Any) -> None:
    # The policy of the pages lets no foreign script in; axe is brought in by the test alone.
    page, _ = opened(browser, site, size, color_scheme=scheme, bypass_csp=True)
    page.goto(site + PAGES[name])
    # Closed parts are opened, so that they are looked at too.
    page.evaluate("document.querySelectorAll('details').forEach(d => d.open = true)")
    found = Axe().run(
        page,
        options={
            "runOnly": {
                "type": "tag",
                "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"],
            }
        },
    )
    assert found.violations_count == 0, found.generate_report()
    page.context.close()


@pytest.mark.parametrize("name", ["ask", "check", "instruments", "procedure"])
def test_targets_are_large_enough(page: Page, site: str, name: str) -> None:
    page.goto(site + PAGES[name])
    small = page.evaluate(
        """() => [...document.querySelectorAll('button, select, textarea, '
          + 'input:not([type=hidden]), nav.main a, .cards a, summary')]
        .filter(e => e.offsetParent && !e.hidden)
        .filter(e => { const b = (e.closest('label') || e).getBoundingClientRect();
                       return b.height < 24 || b.width < 24; })
        .map(e => e.outerHTML.slice(0, 80))"""
    )
    assert small == []


def focus(page: Page) -> dict[str, Any]:
    found: dict[str, Any] = page.evaluate(
        """() => { const e = document.activeElement, s = getComputedStyle(e),
          b = e.getBoundingClientRect();
        return {tag: e.tagName, id: e.id, text: (e.textContent || '').trim().slice(0, 40),
          outline: s.outlineStyle !== 'none' && parseFloat(s.outlineWidth) >= 2,
          inside: b.bottom > 0 && b.top < innerHeight}; }"""
    )
    return found


def test_keyboard_alone_asks_and_gets_an_answer(page: Page, site: str) -> None:
    page.goto(site + "/")
    page.keyboard.press("Tab")
    assert focus(page)["text"] == "Skip to the content"
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    assert focus(page)["id"] == "procedure"
    page.keyboard.type("Tube")
    seen = []
    for words in ("open the pleura", "Kelly", "Kocher"):
        page.keyboard.press("Tab")
        seen.append(focus(page))
        page.keyboard.type(words)
    assert [s["id"] for s in seen] == ["step", "missing", "candidate"]
    assert all(s["outline"] and s["inside"] for s in seen)
    page.keyboard.press("Enter")
    page.wait_for_selector(".verdict")
    assert "Do not use" in page.inner_text(".verdict")


def test_every_stop_of_the_keyboard_shows_where_it_is(page: Page, site: str) -> None:
    page.goto(site + PAGES["check"])
    for _ in range(45):
        page.keyboard.press("Tab")
        stop = focus(page)
        if stop["tag"] == "BODY":
            break
        assert stop["outline"], stop
        assert stop["inside"], stop
    else:
        pytest.fail("the keyboard never leaves the page")


def test_everything_works_without_script(browser: Browser, site: str, size: str) -> None:
    page, seen = opened(browser, site, size, java_script_enabled=False)
    page.goto(site + "/")
    page.select_option("#procedure", "tube-thoracostomy")
    page.fill("#step", "open the pleura")
    page.fill("#candidate", "Kocher")
    page.click("form[aria-label='Ask for a stand-in'] button")
    assert "Do not use" in page.inner_text(".verdict")
    page.goto(site + "/check")
    page.check("input[value=tube-thoracostomy]")
    page.fill("#text", TRAY)
    page.click("form[aria-label='Check a tray'] button")
    assert page.locator(".verdict").count() == 1
    page.goto(site + "/compose")
    page.check("input[value=tube-thoracostomy]")
    page.fill("#stock", "2 Kelly forceps\n3 disposable scalpel No 10\n2 chest drain 28")
    page.click("form[aria-label='Compose a tray'] button")
    assert page.locator(".verdict").count() == 1
    page.goto(site + "/compare?a=Kelly+forceps&b=Crile+forceps")
    assert page.locator("svg.drawing").count() == 4
    assert seen.outside == [] and seen.errors == []
    page.context.close()


def test_a_file_can_be_checked(page: Page, site: str) -> None:
    page.goto(site + "/check")
    page.check("input[value=tube-thoracostomy]")
    page.set_input_files(
        "#file",
        {
            "name": "tray.csv",
            "mimeType": "text/csv",
            "buffer": b"Qty,Item\n2,Kelly forceps\n1,Disposable scalpel No 10\n1,wibble thing\n",
        },
    )
    page.click("form[aria-label='Check a tray'] button")
    body = page.inner_text("main")
    assert "wibble thing" in body and "Not known" in body
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


def test_a_dropped_file_is_taken(page: Page, site: str) -> None:
    page.goto(site + "/check")
    page.evaluate(
        """() => { const data = new DataTransfer();
        data.items.add(new File(['2 Kelly forceps'], 'dropped.txt', {type: 'text/plain'}));
        document.querySelector('.dropzone').dispatchEvent(
          new DragEvent('drop', {dataTransfer: data, bubbles: true, cancelable: true})); }"""
    )
    assert page.evaluate("document.getElementById('file').files[0].name") == "dropped.txt"


def test_steps_are_offered_for_the_chosen_procedure(page: Page, site: str) -> None:
    page.goto(site + "/")
    page.select_option("#procedure", "tube-thoracostomy")
    page.wait_for_selector('#step-names option:nth-of-type(4)', state='attached')


def test_drawings_follow_dark_mode_and_forced_colours(browser: Browser, site: str) -> None:
    def pen_and_paper(**how: Any) -> tuple[str, str]:
        page, _ = opened(browser, site, "desktop", **how)
        page.goto(site + PAGES["instrument"])
        pair = page.evaluate(
            """() => [getComputedStyle(document.querySelector('svg.drawing g')).stroke,
            getComputedStyle(document.querySelector('svg.drawing .p')).fill]"""
        )
        page.context.close()
        return pair[0], pair[1]

    def light(colour: str) -> float:
        parts = [float(p) for p in colour.strip("rgba()").split(",")[:3]]
        return sum(parts) / 3

    day, night = pen_and_paper(color_scheme="light"), pen_and_paper(color_scheme="dark")
    forced = pen_and_paper(forced_colors="active", color_scheme="dark")
    assert light(day[0]) < 100 < light(day[1])
    assert light(night[1]) < 100 < light(night[0])
    assert abs(light(forced[0]) - light(forced[1])) > 150


def test_print_leaves_out_what_is_not_for_paper(page: Page, site: str) -> None:
    page.goto(site + "/check")
    page.check("input[value=tube-thoracostomy]")
    page.fill("#text", TRAY)
    page.click("form[aria-label='Check a tray'] button")
    page.wait_for_selector(".verdict")
    page.wait_for_load_state("load")
    page.emulate_media(media="print")
    assert not page.locator("nav.main").is_visible()
    assert not page.locator("form[aria-label='Check a tray']").is_visible()
    assert page.locator(".verdict").is_visible()


def test_policy_stops_foreign_script(page: Page, site: str) -> None:
    answer = page.goto(site + "/")
    assert answer is not None
    policy = answer.headers["content-security-policy"]
    assert "default-src 'none'" in policy and "script-src 'self'" in policy
