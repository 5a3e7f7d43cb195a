"""Every screen is pictured, by day and by night, at a desk, on a tablet and on a telephone, for a person to look at before a release.

The pictures lie in pytest's own folder, or in the one that DIGITIZE_SCREENS names. What a program can see of them is
checked here: nothing to be clicked lies over another such thing, nothing sticks out, no word on a button is cut.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from digitize.store.manual import Manual
from fixtures.small_harness import SCAN_PX_PER_MM

from .browser import Person, Served
from .test_intake import picture
from .test_stories_pages import drop

pytestmark = pytest.mark.browser
K = SCAN_PX_PER_MM

FAULTS_OF_LAYOUT = """() => {
  const open = document.querySelector('dialog[open]') ?? document.body;
  const found = [];
  const shown = (e) => {
    const r = e.getBoundingClientRect();
    const s = getComputedStyle(e);
    if (r.width < 2 || r.height < 2 || s.visibility === 'hidden' || e.closest('[hidden]')) return null;
    for (let p = e.parentElement; p; p = p.parentElement) {
      const q = p.getBoundingClientRect();
      if (getComputedStyle(p).overflow !== 'visible' && (r.bottom <= q.top + 1 || r.top >= q.bottom - 1 || r.right <= q.left || r.left >= q.right)) return null;
    }
    return r;
  };
  const all = [...open.querySelectorAll('button, input, select, textarea, a[href]')].filter((e) => !e.matches('.skip, .unseen, [role=slider]')).map((e) => [e, shown(e)]).filter(([, r]) => r);
  const name = (e) => e.id || e.textContent.trim().slice(0, 30) || e.tagName;
  for (let i = 0; i < all.length; i += 1) {
    const [a, r] = all[i];
    if (a.tagName === 'BUTTON' && a.scrollWidth > a.clientWidth + 1 && getComputedStyle(a).textOverflow !== 'ellipsis') found.push(`${name(a)} is cut`);
    const rolls = (e) => e !== null && (/auto|scroll/.test(getComputedStyle(e).overflowX) || rolls(e.parentElement));
    if (r.right > innerWidth + 1 && !rolls(a.closest('ol'))) found.push(`${name(a)} sticks out`);
    for (let j = i + 1; j < all.length; j += 1) {
      const [b, q] = all[j];
      if (a.contains(b) || b.contains(a) || a.closest('.says, .facing-head') || b.closest('.says, .facing-head')) continue;
      const w = Math.min(r.right, q.right) - Math.max(r.left, q.left);
      const h = Math.min(r.bottom, q.bottom) - Math.max(r.top, q.top);
      if (w > 2 && h > 2) found.push(`${name(a)} lies over ${name(b)}`);
    }
  }
  if (document.documentElement.scrollWidth > innerWidth) found.push('the page is wider than the window');
  return found;
}"""


def close_dialog(person: Person) -> None:
    person.key("Escape")
    person.key("Escape")


@pytest.mark.parametrize("lamp", ["day", "night"])
@pytest.mark.parametrize("size", [(1280, 800), (820, 1180), (390, 844)], ids=["desk", "tablet", "phone"])
def test_every_screen_is_pictured_and_nothing_lies_over_another(
    browser: Browser, served: Served, size: tuple[int, int], lamp: str, tmp_path_factory: pytest.TempPathFactory
):
    folder = Path(os.environ.get("DIGITIZE_SCREENS") or tmp_path_factory.getbasetemp() / "screens")
    folder.mkdir(parents=True, exist_ok=True)
    scheme = "dark" if lamp == "night" else "light"
    context = browser.new_context(
        viewport={"width": size[0], "height": size[1]}, color_scheme=scheme, reduced_motion="reduce"
    )
    person = Person(context.new_page())
    person.open(served.url)
    page = person.page
    assert page.evaluate("() => document.documentElement.dataset.lamp ?? 'day'") == lamp

    def whole(*keys: str) -> None:
        person.key("Escape")
        person.key("h")
        person.settle()
        for key in keys:
            person.key(key)

    def selected() -> None:
        whole()
        person.click_scan(160 * K, 60 * K)
        expect(page.locator("#slip")).to_be_visible()

    def part() -> None:
        whole("b")
        person.click_scan(150 * K, 56 * K)
        person.click_scan(158 * K, 64 * K)
        expect(page.locator("#part")).to_be_visible()

    def intake() -> None:
        close_dialog(person)
        drop(person, {"page_09.png": picture(), "a long name of a scanned page, number twelve.png": b"junk"})
        expect(page.locator("#handed li", has_text="page_09")).to_contain_text("1 page")

    def way() -> None:
        close_dialog(person)
        whole()
        person.click_scan(150 * K, 85 * K)
        person.key("f")
        expect(page.locator("#way")).to_be_visible()

    screens: dict[str, Callable[[], object]] = {
        "question": lambda: person.key("q"),
        "whole": whole,
        "selected": selected,
        "facing": lambda: person.key("n"),
        "pairing": lambda: person.key("p"),
        "zone lines": lambda: whole("n", "l"),
        "box": part,
        "pages": intake,
        "conventions": lambda: (close_dialog(person), person.key("k"), page.wait_for_selector("#book-text")),
        "way": way,
        "keys": lambda: person.key("?"),
    }
    for name, act in screens.items():
        act()
        person.settle()
        page.screenshot(path=folder / f"{size[0]}-{lamp}-{name.replace(' ', '-')}.png")
        assert page.evaluate(FAULTS_OF_LAYOUT) == [], name
    assert person.faults == []
    context.close()


@pytest.mark.parametrize("size", [(1280, 800), (820, 1180), (390, 844)], ids=["desk", "tablet", "phone"])
def test_the_first_page_is_pictured(
    browser: Browser, tmp_path: Path, size: tuple[int, int], tmp_path_factory: pytest.TempPathFactory
):
    folder = Path(os.environ.get("DIGITIZE_SCREENS") or tmp_path_factory.getbasetemp() / "screens")
    folder.mkdir(parents=True, exist_ok=True)
    path = tmp_path / "new.manual"
    Manual.create(path, "").close()
    server = Served(path, tmp_path / "server.log")
    person = Person(browser.new_page(viewport={"width": size[0], "height": size[1]}))
    person.open(server.start())
    try:
        person.page.screenshot(path=folder / f"{size[0]}-first.png")
        assert person.page.evaluate(FAULTS_OF_LAYOUT) == []
    finally:
        person.page.close()
        server.stop()
