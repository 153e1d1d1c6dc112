"""What is left of each scrap, ways out, and the ways to look at the piece."""

from __future__ import annotations

import json
import re
from fractions import Fraction
from typing import Any

from tests.page.conftest import Served, passalong
from tests.page.waiting import asked, lies, rested, routed, until

SHOWS = "document.querySelector('#piece')?.dataset.shows"
PIECE = "fetch('/api/piece').then((one) => one.json()).then((one) => %s)"


def ready(page: Any) -> None:
    until(page, f"{SHOWS} === 'rest'")
    rested(page)


def test_strips_are_cut_out_of_each_scrap_as_the_plan_lays_them(shared: Served, page: Any) -> None:
    """Numbers, places and sizes of the holes against `passalong plan --json`."""
    ready(page)
    plan = json.loads(passalong("plan", shared.folder, "--json").stdout)
    shown = page.evaluate("""(() => {
      const sides = (cut) => ['width', 'height'].map((side) => +cut.getAttribute(side));
      return Object.fromEntries([...document.querySelectorAll('.scrap')].map((one) => [
        one.querySelector('.shape').dataset.key.slice(6),
        [...one.querySelectorAll('.cut')].map((cut, n) =>
          [...sides(cut), one.querySelectorAll('text')[n].textContent])])); })()""")
    for need in plan["fabric"]:
        cuts = [cut for use in need["scraps"] for cut in use["cuts"]]
        number = [str(n) for use in need["scraps"] for n in range(1, len(use["cuts"]) + 1)]
        told = []
        for cut, name in zip(cuts, number, strict=True):
            sides = [float(Fraction(cut["length"])), float(Fraction(cut["width"]))]
            told.append([*(sides if cut["along"] == "long" else sides[::-1]), name])
        assert shown[need["print"]] == told, need["print"]
    assert sum(map(len, shown.values())) > 10


def test_a_size_typed_at_its_scrap_cuts_it_at_once(own: Served, axe: Any) -> None:
    page = own.page()
    ready(page)
    page.locator("[data-key='scrap kelp']").click()
    axe(page)
    page.locator("[data-key='long side kelp']").fill("11 1/2")
    page.locator("[data-key='short side kelp']").fill("4")
    page.locator("[data-key='keep kelp']").click()
    kelp = "one.prints.find((one) => one.id === 'kelp').sizes[0]"
    until(page, PIECE % f"{kelp}?.join() === '11 1/2,4'")
    until(page, "document.querySelector('[data-key=\"scrap kelp\"] .cut')")


def test_too_short_hangs_over_and_a_way_out_makes_it_fit(own: Served, axe: Any) -> None:
    page = own.page()
    ready(page)
    page.evaluate("""import('/static/api.js').then(({ change }) =>
        change('POST', '/api/plan', { wishes: { size: '14x14' }, rows: null, base: 0 }))""")
    until(page, "document.querySelector('.shape .over')")
    assert "too short" in rested(page).inner_text("#lefthead")
    axe(page)
    page.get_by_role("button", name="Ways to make it fit").click()
    until(page, "document.querySelectorAll('#ways button').length > 0")
    axe(page)
    before = page.evaluate(PIECE % "one.revision")
    page.locator("#ways button").first.click()
    assert rested(page).evaluate(PIECE % "one.revision") != before
    page.get_by_role("button", name="Largest piece").click()
    until(page, PIECE % "one.plan.fabric.every((one) => one.short_by === '0')")
    until(page, "!document.querySelector('.shape .over')")


def test_a_remedy_shows_that_it_works_and_says_what_it_did(own: Served) -> None:
    page = own.page()
    ready(page)
    page.evaluate("""import('/static/api.js').then(({ change }) =>
        change('POST', '/api/plan', { wishes: { size: '14x14' }, rows: null, base: 0 }))""")
    until(page, "document.querySelector('[data-key^=remedy]')")
    held: list[Any] = []
    routed(page, re.compile("/api/(plan|order|sequence)$"), lambda one: held.append(one))
    remedy = page.locator("[data-key^=remedy]").first
    label = remedy.inner_text()
    remedy.click()
    until(page, "document.querySelector('[data-key^=remedy]').innerText.endsWith('…')")
    until(page, "document.querySelector('#work progress')")
    remedy.evaluate("(one) => one.click()")  # a second press is none
    asked(page, held)
    held[0].continue_()
    until(page, f"document.querySelector('#status').innerText.startsWith({json.dumps(label)})")
    until(page, "document.querySelector('#work').hidden")
    rested(page)
    assert len(held) == 1


def test_long_work_asked_while_a_change_is_on_its_way_waits_for_it(own: Served) -> None:
    page = own.page()
    ready(page)
    page.evaluate("""import('/static/api.js').then(({ change, job }) => {
        change('POST', '/api/plan', { wishes: { repeats: 2 }, rows: null, base: 0 });
        return job('POST', '/api/largest', {}, undefined, 'Trying').done;
    })""")
    assert page.evaluate(PIECE % "one.steps.length") == 2
    assert page.get_by_role("button", name="Do it again").count() == 0


def test_squint_and_other_eyes_change_the_piece_and_nothing_else(page: Any, axe: Any) -> None:
    ready(page)
    ink = """(() => { const one = document.querySelector('#piece');
      const all = one.getContext('2d').getImageData(0, 0, one.width, one.height).data;
      let colour = 0, sum = 0;
      for (let i = 0; i < all.length; i += 404) {
        colour += Math.abs(all[i] - all[i + 1]) + Math.abs(all[i + 1] - all[i + 2]);
        sum = (sum * 31 + all[i]) | 0;
      }
      return [colour, sum]; })()"""
    plain = page.evaluate(ink)
    page.get_by_role("button", name="Squint").click()
    until(page, f"{ink}[0] === 0")
    for cloth in (".strip img", ".shape image"):
        assert page.locator(cloth).evaluate_all(
            "(all) => all.every((one) => /end=value/.test(one.src || one.getAttribute('href')))")
    axe(page)
    for eyes in ("protan", "deutan", "tritan"):
        page.get_by_label("Colour-blind eyes").select_option(eyes)
        until(page, f"{ink}[0] !== 0 && {ink}[1] !== {plain[1]}")
    page.get_by_role("button", name="Across the room").click()
    until(page, f"{SHOWS} === 'far'")
    page.get_by_role("button", name="As it is").click()
    until(page, f"{SHOWS} === 'rest' && Math.abs({ink}[0] / {plain[0]} - 1) < .1")


def test_true_size_by_a_bank_card(page: Any, axe: Any) -> None:
    """A card is 85.60 mm wide (ISO/IEC 7810 ID-1): held to 400 px, an inch has 118.69."""
    ready(page)
    page.get_by_role("button", name="True size").click()
    slide = page.get_by_label("Width of the outline")
    axe(page)
    slide.fill("400")
    assert abs(lies(page.locator(".card"))["width"] - 400) < 1
    page.get_by_role("button", name="This is the size of the card").click()
    wide = page.evaluate(PIECE % "one.plan.outside[0]")
    inches = float(sum(Fraction(part) for part in wide.split()))
    until(page, f"Math.abs(document.querySelector('#piece').getBoundingClientRect().width"
                f" - {inches * 400 / 85.6 * 25.4}) < 2")
    axe(page)
    page.get_by_role("button", name="True size").click()
    until(page, "document.querySelector('#piece').getBoundingClientRect().height < innerHeight")


def test_another_size_beside_it_and_a_wall_of_her_colour(page: Any, axe: Any) -> None:
    ready(page)
    before = page.evaluate(PIECE % "one.revision")
    page.get_by_role("button", name="Another size").click()
    page.get_by_label("wide of the other size").fill("4")
    page.get_by_label("high of the other size").fill("6 1/2")
    page.get_by_role("button", name="Show", exact=True).click()
    page.wait_for_selector("#beside canvas")
    assert "strips" in page.inner_text("#beside")
    axe(page)
    page.locator("#beside").get_by_role("button", name="Close").click()
    assert page.evaluate(PIECE % "one.revision") == before, "looking changed the piece"
    page.get_by_label("Wall colour").fill("#334455")
    painted = ("getComputedStyle(document.querySelector('#hang')).backgroundImage"
               ".includes('rgb(51, 68, 85)')")
    assert page.evaluate(painted)
    page.reload()
    until(page, painted)
    page.get_by_role("button", name="Grey wall").click()
