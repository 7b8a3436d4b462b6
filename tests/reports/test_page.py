"""The page in headless Chromium, driven as a reader would drive it.

Outside references: axe-core, the published accessibility checker of the WCAG rules; networkx for the paths of a
fault; colorspacious for how colours look to colour-blind eyes (Machado, Oliveira, Fernandes 2009, severity 100 %)
and how far apart they are (CAM02-UCS). Numbers follow from rounding to three significant figures, by hand.
"""

from __future__ import annotations

import itertools
import random
import re
import subprocess
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import networkx as nx
import pytest
from advice_sample import small_advice
from axe_playwright_python.sync_playwright import Axe
from colorspacious import cspace_convert, deltaE
from observatory_sample import HOSTILE, hostile, sample
from playwright.sync_api import Browser, Page, sync_playwright
from programs import need

from loadloom.graph.model.results import Cap, DeviceRow, Factor, FaultRow, Rating, Results
from loadloom.reports.advice import WRITERS
from loadloom.reports.numbers import figures
from loadloom.reports.page import render

SERIOUS = ("serious", "critical")


def branching(branches: int, leaves: int) -> Results:
    """A harness with one output: trunks T and R, behind each trunk fuses, wires W, loads, returns V."""
    base = sample()
    wire, fuse, load = base.conductors[0], base.devices[0], base.loads[0]
    conductors, devices, loads = [], [], []
    links = [("U1A", "@plus", "@minus")]
    for b in range(branches):
        for name, role, ends in ((f"T{b}", "feed", ("@plus", f"@f{b}")), (f"R{b}", "return", (f"@r{b}", "@minus"))):
            conductors.append(replace(wire, id=name, role=role, findings=(), sustained_fault=None))
            links.append((name, *ends))
        for n in range(leaves):
            leaf = f"{b}.{n}"
            devices.append(replace(fuse, id=f"F{leaf}", findings=(), protects=(f"W{leaf}",)))
            conductors.append(replace(wire, id=f"W{leaf}", findings=(), sustained_fault=f"FL{leaf}"))
            conductors.append(replace(wire, id=f"V{leaf}", role="return", findings=(), sustained_fault=f"FL{leaf}"))
            loads.append(replace(load, id=f"L{leaf}", findings=()))
            links += [
                (f"F{leaf}", f"@f{b}", f"@g{leaf}"),
                (f"W{leaf}", f"@g{leaf}", f"@l{leaf}"),
                (f"L{leaf}", f"@l{leaf}", f"@m{leaf}"),
                (f"V{leaf}", f"@m{leaf}", f"@r{b}"),
            ]
    faults = tuple(_load_fault(load.id.removeprefix("L")) for load in loads[:50])
    return replace(
        base,
        conductors=tuple(conductors),
        devices=tuple(devices),
        loads=tuple(loads),
        contacts=(),
        faults=faults,
        links=tuple(links),
    )


def _load_fault(leaf: str) -> FaultRow:
    return FaultRow(
        id=f"FL{leaf}",
        kind="load",
        case="slew",
        at=f"L{leaf}",
        to=f"@m{leaf}",
        fault_current_a=13.5,
        fault_resistance_ohm=0.8123,
        fault_power_w=148.04,
        held_by=f"F{leaf}",
        worst=f"W{leaf}",
        worst_current_a=13.5,
        worst_allowed_a=10.0,
        resistance_band_ohm=(0.8123, 1.1),
        description=f"A fault in place of load L{leaf}.",
    )


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    path = need("chromium")
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=path, args=["--no-sandbox", "--disable-gpu"])
        yield started
        started.close()


Opener = Callable[..., Page]


@pytest.fixture
def opened(browser: Browser, tmp_path: Path) -> Iterator[Opener]:
    """Opens results as a page from a file; fails on any request, message, error or dialog of that page."""
    pages: list[Page] = []
    faults: list[str] = []

    def open_page(results: Results | bytes, scheme: str = "light") -> Page:
        file = tmp_path / f"page{len(pages)}.html"
        file.write_bytes(results if isinstance(results, bytes) else render(results))
        page = browser.new_page(viewport={"width": 1400, "height": 1000}, color_scheme=scheme)  # type: ignore[arg-type]
        pages.append(page)
        page.on("console", lambda message: faults.append(f"console: {message.text}"))
        page.on("pageerror", lambda error: faults.append(f"error: {error}"))
        page.on("dialog", lambda dialog: (faults.append(f"dialog: {dialog.message}"), dialog.dismiss()))
        page.on("request", lambda request: request.url == file.as_uri() or faults.append(f"request: {request.url}"))
        page.goto(file.as_uri())
        return page

    yield open_page
    for page in pages:
        page.close()
    assert faults == []


def column(page: Page, table: str, heading: str) -> list[str]:
    """The texts of one column of a table."""
    return page.evaluate(  # type: ignore[no-any-return]
        """([table, heading]) => {
          const bare = (th) => th.textContent.replace(/ [▲▼]$/, "");
          const at = [...document.querySelectorAll(`#${table} thead th`)].findIndex((th) => bare(th) === heading);
          const rows = [...document.querySelectorAll(`#${table} tbody tr`)].filter((tr) => tr.cells.length > 1);
          return rows.map((tr) => tr.cells[at].textContent);
        }""",
        [table, heading],
    )


def below(page: Page, table: str, heading: str) -> list[str]:
    """The sentences of one kind that stand below the rows of a table."""
    return page.evaluate(  # type: ignore[no-any-return]
        """([table, heading]) => [...document.querySelectorAll(`#${table} tr.below span`)]
          .filter((span) => span.firstChild.textContent === heading)
          .map((span) => span.textContent.slice(heading.length).trim())""",
        [table, heading],
    )


def unfold(page: Page, table: str) -> None:
    page.click(f"#{table} > summary")
    page.wait_for_selector(f"#{table} tbody tr", state="attached")


def heading(page: Page, table: str, words: str) -> Any:
    return page.locator(f"#{table} thead button", has_text=words).first


def test_the_same_results_give_the_same_bytes() -> None:
    assert render(sample()) == render(sample())


def test_a_host_path_in_the_file_name_is_not_shown(opened: Opener) -> None:
    results = replace(sample(), provenance=replace(sample().provenance, file="/home/someone/dome/x.kicad_sch"))
    page = opened(results)
    for place in ("#head", "#sign"):
        assert "x.kicad_sch" in page.inner_text(place)
        assert "/home" not in page.inner_text(place)


def test_tables_of_advice_sort_filter_and_lead_to_their_parts(opened: Opener) -> None:
    page = opened(WRITERS[".html"](small_advice()))
    # By hand: three conductors in the sample, the thickest drawn is W1 with 10 mm².
    assert column(page, "advice-0", "Conductor") == ["W1", "W2", "W3"]
    heading(page, "advice-0", "Copper drawn").click()
    grams = [float(text) for text in column(page, "advice-0", "Copper drawn, g")]
    assert grams == sorted(grams) and column(page, "advice-0", "Conductor")[-1] == "W1"
    page.fill("#advice-0 input[type=search]", "W3")
    assert column(page, "advice-0", "Conductor") == ["W3"]
    page.locator("#advice-0 tbody button", has_text="W3").click()
    assert page.locator("tr.hit").get_attribute("data-id") == "W3"
    titles = page.eval_on_selector_all("#advice-1 thead button", "all => all.map((b) => b.textContent)")
    assert len(set(titles)) == len(titles) and "Limited by" in titles
    assert [v for v in Axe().run(page).response["violations"] if v["impact"] in SERIOUS] == []


def test_a_table_sorts_by_size_with_the_unknown_last_and_back(opened: Opener) -> None:
    page = opened(sample())
    unfold(page, "conductors")
    first = column(page, "conductors", "Worst, A")
    assert first[0] == "14.2"  # 2.0 + 17.3·sin²(1 rad)
    button = heading(page, "conductors", "Worst, A")
    button.press("Enter")
    up = column(page, "conductors", "Worst, A")
    assert up[-1] == "–"
    values = [float(text) for text in up[:-1]]
    assert values == sorted(values)
    assert page.locator("#conductors th[aria-sort]").get_attribute("aria-sort") == "ascending"
    button.press("Enter")
    down = column(page, "conductors", "Worst, A")
    assert down[-1] == "–"
    assert [float(text) for text in down[:-1]] == sorted(values, reverse=True)
    assert page.locator("#conductors th[aria-sort]").get_attribute("aria-sort") == "descending"
    button.press("Enter")
    assert column(page, "conductors", "Worst, A") == first
    assert page.locator("#conductors th[aria-sort]").count() == 0
    assert page.evaluate("document.activeElement.textContent").startswith("Worst")


def test_a_table_filters_and_says_how_many_are_left(opened: Opener) -> None:
    page = opened(sample())
    unfold(page, "conductors")
    page.fill("#conductors input[type=search]", "22 awg")
    assert set(column(page, "conductors", "Size")) == {"22 AWG"}
    count = sum(row.gauge == "22 AWG" for row in sample().conductors)
    assert page.inner_text("#conductors [role=status]") == f"{count} of 40 rows"


def test_the_filter_finds_words_in_any_order_and_however_they_are_written(opened: Opener) -> None:
    """Small letters or capitals, plain digits for raised ones, words of several cells."""
    page = opened(sample())
    unfold(page, "conductors")
    every = set(column(page, "conductors", "Conductor"))
    sizes = dict(zip(column(page, "conductors", "Conductor"), column(page, "conductors", "Size"), strict=True))
    kinds = dict(zip(column(page, "conductors", "Conductor"), column(page, "conductors", "Kind"), strict=True))
    wanted = next(size for size in sizes.values() if size != "–")
    part = next(name for name, size in sizes.items() if size == wanted)
    typed = f"{kinds[part]} {wanted}".upper().replace("²", "2")
    page.fill("#conductors input[type=search]", typed)
    found = set(column(page, "conductors", "Conductor"))
    assert part in found and found < every
    assert {n for n, size in sizes.items() if size == wanted and kinds[n] == kinds[part]} <= found


def test_the_bars_of_the_margins_have_the_colours_of_the_legend(opened: Opener) -> None:
    """Up to 60, 80 and 100 % and over it, for load and fault alike."""
    page = opened(sample())
    bars = page.evaluate(
        """() => [...document.querySelectorAll(".margin-track .margin-line")].map((line) => [
            line.querySelector(".margin-number").textContent, line.querySelector(".margin-bar").className])"""
    )
    seen = set()
    for number, name in bars:
        if number == "not determined":
            continue
        share = float(number.split(" ")[0].replace(",", ".")) * (100 if number.endswith("×") else 1)
        wanted = "u-low" if share <= 60 else "u-mid" if share <= 80 else "u-near" if share <= 100 else "u-over"
        assert wanted in name.split(), (number, name)
        seen.add(wanted)
    assert len(seen) >= 3
    words = page.inner_text("#margin-legend")
    assert "up to 60 %" in words and "above 100 %" in words


def test_a_setting_outside_its_range_is_marked(opened: Opener) -> None:
    """In the table, and in the words of the part, with how the ends come about."""
    results = sample()
    devices = list(results.devices)
    low = replace(devices[0], setting_a=20.0, setting_low_a=11.9, setting_high_a=15.0)
    low = replace(low, setting_high_because="16.5 A allowed on W1 ÷ 1.1, since it may hold 1.1 times its setting")
    page = opened(replace(results, devices=(low, *devices[1:])))
    unfold(page, "devices")
    assert column(page, "devices", "The setting is")[0] == "✕ too high"
    assert page.locator("#devices td.grade-error").first.inner_text() == "✕ too high"
    assert below(page, "devices", "Upper end:")[0].startswith("16.5 A allowed on W1 ÷ 1.1")
    words = page.evaluate(f"inWords({low.id!r})")
    assert "the setting is TOO HIGH" in words and "16.5 A allowed on W1 ÷ 1.1" in words


@pytest.mark.parametrize(("table", "heading"), [("faults", "Held by"), ("short_circuits", "Cleared by")])
def test_the_device_that_holds_or_clears_leads_to_its_row(opened: Opener, table: str, heading: str) -> None:
    results = sample()
    page = opened(results)
    unfold(page, table)
    devices = {row.id for row in (*results.devices, *results.outputs)}
    held = next(name for name in column(page, table, heading) if name in devices)
    page.locator(f"#{table} tbody td button.plain", has_text=held).first.click()
    assert page.locator("tr.hit").get_attribute("data-id") == held


def test_limit_and_trip_of_an_output_are_told_apart(opened: Opener) -> None:
    page = opened(sample())
    unfold(page, "outputs")
    assert "Trip: where it switches off by itself" in page.inner_text("#outputs")


def test_a_table_is_copied_as_filtered_with_formulas_made_harmless(opened: Opener) -> None:
    results = sample()
    wire = replace(results.conductors[0], id="=1+1")
    page = opened(replace(results, conductors=(wire, *results.conductors[1:])))
    page.evaluate("() => { window.copied = []; copyText = async (text) => { copied.push(text); return true; }; }")
    unfold(page, "conductors")
    page.fill("#conductors input[type=search]", "=1+1")
    page.click("#conductors >> text=Copy table")
    page.wait_for_function("document.querySelector('#conductors [role=status]').textContent === 'Copied 1 row.'")
    lines = page.evaluate("copied")[0].split("\n")
    assert len(lines) == 2
    assert lines[0].split("\t")[:2] == ["Conductor", "Kind"]
    assert lines[1].split("\t")[0] == "'=1+1"


def test_numbers_have_three_figures_and_the_decimal_sign_of_the_settings(opened: Opener) -> None:
    page = opened(replace(sample(), settings={**sample().settings, "decimal_sign": ","}))
    expected = {0.0365402: "0,0365", 12.2: "12,2", 99.96: "100", 0.9996: "1,00", -11.44: "−11,4", 0.0: "0"}
    for value, text in expected.items():
        assert page.evaluate("(value) => fig(value)", value) == text
    assert page.evaluate("fig(null) + fig(NaN)") == "––"
    assert page.evaluate("quantity(0.0079, 'Ω')") == "7,90 mΩ"
    unfold(page, "conductors")
    assert column(page, "conductors", "Worst, A")[0] == "14,2"


def test_numbers_are_those_of_the_other_reports(opened: Opener) -> None:
    page = opened(sample())
    draw = random.Random(7)
    values = [draw.choice((1, -1)) * draw.random() * 10.0 ** draw.randint(-6, 7) for _ in range(3000)]
    values += [20.25, 20.35, 0.125, 4.35, 12.5, 0.0625, 1000.5, 999.5, 99.95, 5e-5, 1e-9, 9.9e-10, 0.0]  # ties too
    assert page.evaluate("(values) => values.map(fig)", values) == [figures(value) for value in values]


def test_decimal_signs_of_a_column_stand_under_each_other(opened: Opener) -> None:
    page = opened(sample())
    unfold(page, "conductors")
    places = page.evaluate(
        """() => {
          const heads = [...document.querySelectorAll("#conductors thead th")];
          const at = heads.findIndex((th) => th.textContent.startsWith("Worst"));
          const rows = [...document.querySelectorAll("#conductors tbody tr:not(.below)")];
          return rows.map((tr) => tr.cells[at].querySelector(".rest").getBoundingClientRect().left);
        }"""
    )
    assert max(places) - min(places) < 0.6


def test_a_click_in_the_picture_goes_to_the_row_and_the_row_goes_back(opened: Opener) -> None:
    page = opened(branching(2, 3))
    page.click("g.link[aria-label^='W1.2:'] >> text=W1.2")
    assert page.evaluate("document.activeElement.dataset.id") == "W1.2"
    assert page.locator("tr.hit").count() == 1
    page.click("tr[data-id='W0.1'] button")
    assert page.evaluate("document.activeElement.getAttribute('aria-label')").startswith("W0.1:")
    marked = page.locator("svg#harness .marked")
    assert marked.count() == 1
    assert marked.get_attribute("aria-label").startswith("W0.1:")  # type: ignore[union-attr]


def test_a_finding_leads_to_the_row_of_its_part(opened: Opener) -> None:
    page = opened(sample())
    page.click("#findings tbody tr:first-child button")
    assert page.evaluate("document.activeElement.dataset.id") == "W5"
    assert page.locator("#conductors").get_attribute("open") is not None


def test_many_findings_show_one_of_each_rule_until_asked_for(opened: Opener) -> None:
    results = sample()
    many = tuple(
        replace(
            results.findings[1],
            subject=replace(results.findings[1].subject, id=f"W{n}"),
            value=12.4 * (1 + n / 10),
            message=f"wire {n}",
        )
        for n in range(1, 15)
    )
    page = opened(replace(results, findings=many))
    assert column(page, "findings", "Finding")[:1] == ["wire 14"]  # the worst stands for the others
    assert page.locator("#findings tbody tr:not(.below)").count() == 2
    page.click("#findings button[aria-expanded=false]")
    assert page.locator("#findings tbody tr:not(.below)").count() == 15
    assert page.evaluate("document.activeElement.getAttribute('aria-expanded')") == "true"


def test_state_and_arrangement_are_picked_and_the_numbers_follow(opened: Opener) -> None:
    results = branching(1, 2)
    off = replace(results.devices[0], settings_a={c.id: None if c.arrangement else 10.0 for c in results.cases})
    page = opened(replace(results, devices=(off, *results.devices[1:])))
    value = page.locator("g.link[aria-label^='W0.0:'] text.value")
    worst = results.conductors[2].currents_a["slew"]
    assert worst is not None
    # A fault can hold more on this part than its loads draw: that is what the picture starts with.
    fault_a, allowed_a = results.conductors[2].sustained_fault_a, results.conductors[2].allowed_a
    assert fault_a is not None and allowed_a is not None and fault_a > results.conductors[2].current_a  # type: ignore[operator]
    assert value.text_content() == f"fault {fault_a:.1f} A · {100 * fault_a / allowed_a:.1f} %"
    page.select_option("#show-pick", "load")
    # The share is of what flows continuously, and the current beside it is that one.
    lasting_a = results.conductors[2].continuous_a
    assert lasting_a is not None
    assert value.text_content() == f"{lasting_a:.1f} A · {100 * lasting_a / allowed_a:.1f} %"
    page.select_option("#state-pick", "nominal")
    assert value.text_content().startswith(f"{0.6 * worst:.2f} A")  # type: ignore[union-attr]
    assert page.inner_text("#shown") == "Load currents of state “nominal”, the worst arrangement."
    unfold(page, "conductors")
    assert column(page, "conductors", "In the case picked, A")[2] == f"{0.6 * worst:.2f}"
    page.select_option("#arrangement-pick", "pooled")
    assert page.locator("g.box[aria-label^='F0.0:'] text.value").text_content() == "not active"
    page.select_option("#arrangement-pick", "as drawn")
    assert page.locator("g.box[aria-label^='F0.0:'] text.value").text_content() != "not active"


def test_what_a_fault_can_hold_is_drawn_when_asked_for(opened: Opener) -> None:
    page = opened(branching(1, 2))
    page.select_option("#show-pick", "fault")
    words = page.locator("g.link[aria-label^='W0.0:'] text.value").text_content()
    row = branching(1, 2).conductors[2]
    assert row.sustained_fault_a is not None
    assert row.allowed_a is not None
    assert words == f"{row.sustained_fault_a:.1f} A · {100 * row.sustained_fault_a / row.allowed_a:.1f} %"


def test_the_fault_view_shows_what_flows_burns_holds_and_its_way(opened: Opener) -> None:
    page = opened(branching(2, 3))
    page.click("#fault-toggle")
    assert page.locator("#fault-toggle").get_attribute("aria-pressed") == "true"
    page.select_option("#fault-part", "W1.2")
    words = page.inner_text("#fault-words")
    for text in (
        "13.5 A through 0.812 Ω",
        "148 W",
        "F1.2 stays just below tripping",
        "1.35 times its allowed 10.0 A",
    ):
        assert text in words
    assert "from 0.812 Ω to 1.10 Ω" in words
    path = {label.split(":")[0] for label in _labels(page, ".on-way[aria-label]")}
    assert path == {"U1A", "T1", "F1.2", "W1.2", "L1.2", "V1.2", "R1"}
    signs = page.locator("svg#harness g.sign").all_text_contents()
    assert sorted(signs) == ["holds", "worst", "✸ fault"]
    page.click("#fault-toggle")
    assert page.locator("svg#harness g.sign").count() == 0
    assert page.locator("#fault-words").is_hidden()


def test_a_click_picks_the_place_while_the_fault_view_is_on(opened: Opener) -> None:
    page = opened(branching(2, 3))
    page.click("#fault-toggle")
    page.click("g.link[aria-label^='V0.1:'] >> text=V0.1")
    assert page.input_value("#fault-part") == "V0.1"
    assert "F0.1 stays just below tripping" in page.inner_text("#fault-words")


def test_a_row_of_the_faults_opens_it_in_the_fault_view(opened: Opener) -> None:
    page = opened(branching(2, 3))
    unfold(page, "faults")
    page.click("#faults >> text=FL1.0")
    assert page.input_value("#fault-place") == "FL1.0"
    assert page.input_value("#fault-part") == "W1.0"
    assert page.evaluate("document.activeElement.id") == "fault-place"


def _labels(page: Page, selector: str) -> list[str]:
    return page.eval_on_selector_all(  # type: ignore[no-any-return]
        f"svg#harness {selector}", "(all) => all.map((g) => g.getAttribute('aria-label'))"
    )


def test_every_part_can_be_reached_from_the_keyboard(opened: Opener) -> None:
    page = opened(branching(1, 2))
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    page.evaluate("document.querySelector('#picture-bar button:last-of-type').focus()")
    page.keyboard.press("Tab")
    label = "document.activeElement.getAttribute('aria-label').split(':')[0]"
    assert page.evaluate(label) == "U1A"  # one stop for Tab, at the output
    path = []
    for _ in range(4):
        page.keyboard.press("ArrowRight")
        path.append(page.evaluate(label))
        assert path[-1] in page.inner_text("#detail")
    assert [name[0] for name in path] == ["T", "F", "W", "L"]
    page.keyboard.press("ArrowDown")
    assert page.evaluate(label) != path[-1]
    page.keyboard.press("Home")
    assert page.evaluate(label) == "U1A"
    page.keyboard.press("End")
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.tagName") == "TR"


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_an_accessibility_checker_finds_nothing_serious(opened: Opener, scheme: str) -> None:
    page = opened(branching(1, 3), scheme)
    page.evaluate("for (const table of openTables.values()) { table.box.open = true; table.draw(); }")
    page.click("#fault-toggle")
    page.select_option("#fault-part", "W0.2")
    found = Axe().run(page).response["violations"]
    grave = {v["id"]: [n["html"][:200] for n in v["nodes"][:3]] for v in found if v["impact"] in SERIOUS}
    assert grave == {}


def test_findings_and_charts_are_accessible_too(opened: Opener) -> None:
    found = Axe().run(opened(sample())).response["violations"]
    assert [v["id"] for v in found if v["impact"] in SERIOUS] == []


@pytest.mark.parametrize("text", HOSTILE, ids=[f"hostile{n}" for n in range(len(HOSTILE))])
def test_hostile_text_stays_text(opened: Opener, text: str) -> None:
    page = opened(hostile(text))
    counts = "['script', 'img', 'iframe', 'base', 'form', 'object'].map((t) => document.querySelectorAll(t).length)"
    scripts = render(sample()).count(b"<script")
    assert page.evaluate(counts) == [scripts, 0, 0, 0, 0, 0]
    page.evaluate("for (const table of openTables.values()) { table.box.open = true; table.draw(); }")
    shown = page.inner_text("#assumptions tbody")
    assert not re.search("[\u0000-\u0008\u000e-\u001f\u202a-\u202e\u2066-\u2069\u200e\u200f]", shown)
    assert page.evaluate(counts) == [scripts, 0, 0, 0, 0, 0]
    assert page.evaluate("document.documentElement.scrollWidth") <= 1400


def test_markup_in_a_text_runs_nothing_and_is_shown(opened: Opener) -> None:
    text = "</script><img src=x onerror=\"console.log('run')\"><script>console.log('run')</script>@RESULTS@"
    page = opened(hostile(text))
    page.click("#fault-toggle")
    assert text in page.inner_text("#assumptions tbody")
    assert page.inner_text("h1") == text


PAGE_CSS = Path(__file__).parents[2] / "reports" / "page" / "page.css"


@pytest.mark.parametrize("scheme", [0, 1], ids=["light", "dark"])
@pytest.mark.parametrize("eyes", [None, "protanomaly", "deuteranomaly", "tritanomaly"])
def test_colours_of_utilisation_are_told_apart_by_all_eyes(scheme: int, eyes: str | None) -> None:
    """Steps of 1 in CAM02-UCS are about just noticeable; neighbours here are at least 15 apart."""
    rules = PAGE_CSS.read_text(encoding="utf-8").split("@media screen")[scheme]
    named = dict(re.findall(r"--(low|mid|near|over|panel): #([0-9a-f]{6})", rules))
    shown = {name: [int(value[i : i + 2], 16) / 255 for i in (0, 2, 4)] for name, value in named.items()}
    assert len(shown) == 5
    panel = shown.pop("panel")
    for one, other in itertools.combinations(shown.values(), 2):
        seen = [one, other]
        if eyes:
            space = {"name": "sRGB1+CVD", "cvd_type": eyes, "severity": 100}
            seen = [cspace_convert(colour, space, "sRGB1") for colour in seen]
        assert deltaE(*seen, input_space="sRGB1") > 15
    for colour in shown.values():  # WCAG 2.1, 1.4.11: 3 to 1 for what carries meaning
        light, loses_supply = sorted((_luminance(colour), _luminance(panel)), reverse=True)
        assert (light + 0.05) / (loses_supply + 0.05) >= 3


def _luminance(colour: list[float]) -> float:
    """Relative luminance of WCAG 2.1."""
    linear = [c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in colour]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_gates_are_drawn_as_steps_and_points_of_a_curve_as_lines(opened: Opener) -> None:
    fuse = sample().devices[0]
    page = opened(replace(sample(), devices=(fuse, replace(fuse, id="F4", gates=False))))
    steps = _slanted(page, 0)
    assert steps == 0
    assert _slanted(page, 1) > 0
    for chart in range(2):
        words = page.locator(f"#chart-{chart} svg").first.get_attribute("aria-label")
        assert words is not None
        assert "Non-tripping current 10.0 A, tripping current 13.5 A" in words
    assert page.locator("#chart-0 .axis-name").all_text_contents() == ["Current, A", "Time to open"]


def _slanted(page: Page, chart: int) -> int:
    """How many pieces of the band's edges are neither level nor upright."""
    edges = f"#chart-{chart} path.band-edge"
    count = 0
    for path in page.eval_on_selector_all(edges, "(all) => all.map((p) => p.getAttribute('d'))"):
        points = [tuple(map(float, p)) for p in re.findall(r"(-?[\d.]+),(-?[\d.]+)", path)]
        assert len(points) > 2
        for (x0, y0), (x1, y1) in itertools.pairwise(points):
            count += abs(x0 - x1) > 0.01 and abs(y0 - y1) > 0.01
    return count


def test_a_wire_line_is_its_allowed_current_and_its_short_time_heat(opened: Opener) -> None:
    page = opened(sample())
    wire = {"allowed_a": 10.0}
    # k²S² = 14 100 A²s: 10 A continuously from 141 s on, √(14 100 A²s / 1 ms) = 3755 A at 1 ms
    points = page.evaluate("([wire, heat]) => wireLine(wire, heat)", [wire, 14100.0])
    assert points[0] == [10.0, 10800]
    assert points[1] == pytest.approx([10.0, 141.0])
    assert points[-1] == pytest.approx([3754.997, 0.001], rel=1e-6)


def test_ways_of_a_fault_agree_with_all_simple_paths_of_networkx(opened: Opener) -> None:
    page = opened(branching(1, 1))
    random_number = random.Random(20260301)
    for _ in range(40):
        nodes = random_number.randint(3, 7)
        graph: nx.MultiGraph[str] = nx.MultiGraph()
        graph.add_nodes_from(f"n{i}" for i in range(nodes))
        for k in range(random_number.randint(2, 9)):
            a, b = random_number.randrange(nodes), random_number.randrange(nodes)
            if a != b:
                graph.add_edge(f"n{a}", f"n{b}", key=f"e{k}")
        expected = {key for path in nx.all_simple_edge_paths(graph, "n0", "n1") for _, _, key in path}
        parts = [{"id": key, "a": a, "b": b} for a, b, key in graph.edges(keys=True)]
        got = page.evaluate("(parts) => [...waysBetween({ parts, loads: [] }, 'n0', 'n1')]", parts)
        assert set(got) == expected


def test_a_reversed_load_and_a_load_that_nothing_feeds_are_in_the_picture(opened: Opener) -> None:
    results = branching(1, 3)
    turned = {"L0.0": ("L0.0", "@m0.0", "@l0.0"), "L0.1": ("L0.1", "@nowhere", "@m0.1")}
    page = opened(replace(results, links=tuple(turned.get(link[0], link) for link in results.links)))
    titles = page.locator("svg#harness g.box.load .label").all_text_contents()
    assert titles.count("L0.0 (reversed)") == 2
    assert "Joined to no output" in page.locator("svg#harness .lane-title").all_text_contents()
    assert sum(title.startswith("L0.1") for title in titles) == 2


def test_words_of_the_picture_do_not_overlap(opened: Opener) -> None:
    page = opened(branching(4, 6))
    overlaps = page.evaluate(
        """() => {
          const words = [...document.querySelectorAll("svg#harness .name, svg#harness .value")];
          const boxes = words.filter((t) => t.textContent).map((t) => [t.textContent, t.getBoundingClientRect()]);
          const found = [];
          boxes.forEach(([one, a], i) => boxes.slice(0, i).forEach(([other, b]) => {
            const wide = Math.min(a.right, b.right) - Math.max(a.left, b.left);
            const high = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
            if (wide > 1 && high > 3) found.push([one, other]);
          }));
          return found;
        }"""
    )
    assert overlaps == []


@pytest.mark.parametrize("version", ["flawed", "misdrawn"])
def test_the_page_of_a_real_analysis_is_whole(
    version: str, opened: Opener, demo_results: Callable[[str], Results]
) -> None:
    """Rows as the analysis makes them, with every kind of part and of gap; ``opened`` fails on any script error."""
    page = opened(demo_results(version))
    assert page.locator("#chart-list figure").count() > 5
    switch = page.locator("svg#harness [role=button][aria-label^='SW1:']")
    assert version == "misdrawn" or "One fault can hold" in (switch.first.get_attribute("aria-label") or "")


def test_the_page_says_where_an_allowed_current_comes_from(opened: Opener) -> None:
    """10 A × 0.8 × 0.5 = 4 A; a factor of 1 changes nothing and is left out; a cap that does not bind likewise."""
    base = sample()
    factors = (
        Factor("ambient", 0.8, "table", "S", "", 45.0, "°C"),
        Factor("bundle", 0.5, "6 conductors in the bundle", "S", "", 6, "1"),
        Factor("altitude", 1.0, "below 2000 m", "S", "", 0.0, "m"),
    )
    caps = (Cap("terminal of 60 °C", 9.0, "S"),)
    rating = Rating("W1", 4.0, 10.0, factors, caps, "vehicle", "S", check_edition=True)
    capped = replace(rating, allowed_a=3.0, caps=(Cap("terminal of 60 °C", 3.0, "S"),))
    unrated = replace(rating, allowed_a=None, base_a=None, missing="18 AWG is not in the table")
    rows = [replace(base.conductors[n], id=f"W{n}", rating=r) for n, r in enumerate((rating, capped, unrated))]
    page = opened(replace(base, conductors=tuple(rows)))
    page.evaluate("document.getElementById('conductors').open = true")
    chain = "10.0 A × 0.800 ambient (45.0 °C) × 0.500 bundle (6 conductors in the bundle)"
    assert below(page, "conductors", "Allowed as:") == [
        f"{chain}; vehicle, check your edition",
        f"{chain}, at most 3.00 A: terminal of 60 °C; vehicle, check your edition",
        "18 AWG is not in the table",
    ]


def test_a_finding_is_read_on_a_phone_without_scrolling_sideways(opened: Opener) -> None:
    page = opened(sample())
    page.set_viewport_size({"width": 390, "height": 844})
    message = page.locator("#findings td.words").first
    assert message.inner_text() == sample().findings[0].message
    box = message.bounding_box()
    assert box is not None and box["x"] >= 0 and box["x"] + box["width"] <= 390
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


def test_everything_is_open_on_paper(opened: Opener, tmp_path: Path) -> None:
    page = opened(branching(2, 3), "dark")
    page.pdf(path=tmp_path / "page.pdf", prefer_css_page_size=True)
    assert page.locator("details.table:not([open])").count() == 0
    assert page.locator("#printed svg").count() == 2
    page.emulate_media(media="print")
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    assert page.locator(".canvas").is_hidden()


def test_rows_of_findings_may_part_at_the_foot_of_a_page(opened: Opener) -> None:
    """A row is kept with the line below it where that is printed; else whole rules would move to the next page."""
    page = opened(sample())
    page.emulate_media(media="print")
    kept = page.evaluate(
        "[...document.querySelectorAll('tr.has-below')].map((row) => [getComputedStyle(row).breakAfter,"
        " getComputedStyle(row.nextElementSibling).display])"
    )
    assert kept and all((after == "avoid") == (below != "none") for after, below in kept), kept


def test_no_heading_stands_alone_at_the_foot_of_a_page(opened: Opener, tmp_path: Path) -> None:
    """With tables of many lengths some title would come to stand last, were it not kept with its first row."""
    text, feet = need("pdftotext"), []
    for leaves in range(2, 9):
        page = opened(branching(2, leaves))
        page.pdf(path=tmp_path / "page.pdf", prefer_css_page_size=True)
        done = subprocess.run(
            [text, "-layout", tmp_path / "page.pdf", "-"], capture_output=True, text=True, check=True
        )
        pages = [sheet.rstrip().splitlines() for sheet in done.stdout.split("\f") if sheet.strip()]
        feet += [lines[-1].strip() for lines in pages]
    assert len(feet) > 20
    assert [foot for foot in feet if re.search(r" \d+ rows?$", foot)] == []
    # The lines under a title belong to the table as well: the first of them must not be the last on a page.
    notes = {line.strip() for line in page.locator("details.table > p").all_inner_texts()}
    assert notes and [foot for foot in feet if len(foot) > 40 and any(n.startswith(foot) for n in notes)] == []


def test_five_thousand_conductors_stay_usable(opened: Opener) -> None:
    results = branching(50, 49)
    assert len(results.conductors) == 5000
    page = opened(results)
    loaded = page.evaluate("performance.getEntriesByType('navigation')[0].domContentLoadedEventEnd")
    assert loaded < 20_000  # ms; about 1 s on an idle desk machine, the bound is for a loaded one
    assert page.locator("svg#harness [role=button]").count() < 1500
    page.evaluate("jumpTo('W40.40')")
    assert page.evaluate("document.activeElement.dataset.id") == "W40.40"
    assert page.locator("#conductors tbody tr:not(.below)").count() < 300
    page.click("tr[data-id='W40.40'] button")
    assert page.evaluate("document.activeElement.getAttribute('aria-label')").startswith("W40.40:")
    before = page.locator("svg#harness g.box").count()
    page.locator("g.unfold").first.press("Enter")
    assert page.locator("svg#harness g.box").count() > before
    page.fill("#conductors input[type=search]", "W40.4")
    assert column(page, "conductors", "Conductor") == ["W40.4", *(f"W40.4{n}" for n in range(9))]


def test_results_with_nothing_in_them_make_a_page(opened: Opener) -> None:
    lists = (
        "outputs",
        "supplies",
        "devices",
        "conductors",
        "contacts",
        "splices",
        "switches",
        "loads",
        "open_circuits",
    )
    more = ("faults", "short_circuits", "arrangements", "links", "fault_powers", "findings", "assumptions", "cases")
    page = opened(replace(sample(), **dict.fromkeys((*lists, *more), ()), sources={}))
    assert "FAIL" in page.inner_text("#head")
    assert page.locator("#charts").is_hidden()


def test_a_device_without_numbers_does_not_break_the_charts(opened: Opener) -> None:
    blank = DeviceRow(id="B1", kind="breaker", case=None, setting_a=None, current_a=None, band=((5.0, None, None),))
    page = opened(replace(sample(), devices=(blank,)))
    assert page.locator("#chart-0").count() == 1
