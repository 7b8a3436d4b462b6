"""What people who saw the page alone could not find or read: signatures, wide tables, narrow screens, paper."""

# ruff: noqa: F811 - fixtures of another module are parameters here
from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace

import pytest
from observatory_sample import sample
from test_page import Opener, below, browser, opened, unfold  # noqa: F401 - fixtures

from loadloom.graph.model.findings import Verdict
from loadloom.graph.model.results import About, AboutKind, Results
from loadloom.reports.order_list import CONTACTS, OrderColumn, OrderList, OrderTable
from loadloom.reports.page import render

WHAT_IF = About(kind=AboutKind.WHAT_IF, verdict_as_drawn=Verdict.FAIL)
ORDER = OrderList(
    (
        OrderTable(
            CONTACTS,
            "Housings.",
            tuple(
                OrderColumn(title, ["a rather long text of the user's own", "blade-6.3"])
                for title in (
                    "Contact family",
                    "Housing",
                    "Positions",
                    "Contacts",
                    "Spare positions",
                    "Crimp range",
                )
            ),
        ),
    ),
    (),
)


def test_the_page_of_a_drawing_has_a_block_to_sign_and_says_for_what(opened: Opener) -> None:
    results = sample()
    page = opened(results)
    for media in ("screen", "print"):
        page.emulate_media(media=media)  # type: ignore[arg-type]
        assert page.locator("#sign table.sign tbody tr").count() == 3
        heights = page.evaluate("[...document.querySelectorAll('#sign td')].map((td) => td.clientHeight)")
        assert len(heights) == 9 and min(heights) >= 20
    words = page.inner_text("#sign")
    assert "Prepared" in words and "Checked" in words and "Approved" in words
    assert results.provenance.sha256 in words and results.verdict.upper() in words


@pytest.mark.parametrize("kind", [AboutKind.WHAT_IF, AboutKind.AS_PROPOSED])
def test_what_is_not_the_drawing_is_not_signed(kind: AboutKind, opened: Opener) -> None:
    page = opened(replace(sample(), about=replace(WHAT_IF, kind=kind)))
    assert page.locator("table.sign").count() == 0
    assert kind.upper() in page.inner_text("#sign")


def test_a_table_wider_than_the_window_says_so_and_no_other(opened: Opener) -> None:
    """At 1400 px the table of conductors goes on to the right; at 2200 px it does not."""
    page = opened(sample())
    unfold(page, "conductors")
    for width in (1000, 2200):
        page.set_viewport_size({"width": width, "height": 1000})
        page.wait_for_timeout(150)
        wide = page.evaluate(
            """(() => { const wrap = document.querySelector('#conductors .table-wrap');
                        return wrap.scrollWidth > wrap.clientWidth + 1; })()"""
        )
        assert wide == (width == 1000)
        assert page.locator("#conductors .sideways", has_text="wider").is_visible() == wide


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_on_a_narrow_screen_nothing_scrolls_sideways(opened: Opener, scheme: str) -> None:
    """Every table open, the order tables too: a row is a card there."""
    page = opened(render(sample(), order=ORDER), scheme)
    page.set_viewport_size({"width": 390, "height": 844})
    page.evaluate("document.querySelectorAll('details.table').forEach((d) => (d.open = true))")
    page.wait_for_timeout(300)
    wide = page.evaluate(
        """[document.documentElement, ...document.querySelectorAll('.table-wrap')]
             .filter((box) => box.scrollWidth > box.clientWidth + 1)
             .map((box) => box.closest('details')?.id ?? box.tagName)"""
    )
    assert wide == []
    assert page.locator("#order_contacts td[data-label='Housing']").first.is_visible()


def test_no_row_of_conductors_is_mostly_empty_height(
    opened: Opener, demo_results: Callable[[str], Results]
) -> None:
    """Sentences stand below a row, across the table: the row itself is as high as its findings."""
    page = opened(demo_results("flawed"))
    unfold(page, "conductors")
    heights = page.evaluate(
        "[...document.querySelectorAll('#conductors tbody tr:not(.below)')].map((tr) => tr.clientHeight)"
    )
    assert sorted(heights)[len(heights) // 2] < 50 and max(heights) < 130


def test_every_wire_in_a_chart_says_what_its_own_row_says(
    opened: Opener,
    demo_results: Callable[[str], Results],
) -> None:
    results = demo_results("flawed")
    rows = {row.id: row for row in results.conductors}
    page = opened(results)
    page.evaluate("charts.draw(Infinity)")
    said = [
        (words, words.split(",")[0])
        for words in page.locator("#chart-list figcaption li").all_text_contents()
        if ": allowed " in words
    ]
    assert len(said) > 20
    for words, name in said:
        verdict = words.partition(" A")[2]
        assert ("NOT protected" in verdict) == (rows[name].protected is False), words
        if rows[name].protected is False:
            assert "can stay on it" in verdict, words
    by_device = dict(zip((row.id for row in results.devices), results.devices, strict=True))
    unfold(page, "devices")
    listed = below(page, "devices", "Behind it, but not protected by it:")
    reason = "NOT protected: 110 A can stay on it in slew / pooled, where CH1 is off and PS1 stays just below"
    assert any(words.startswith("C1.1, ") and reason in words for words in listed)
    assert "C1.1" in by_device["CH1"].protects  # the results file keeps what it guards


def test_paper_has_contents_and_no_page_of_nothing(opened: Opener, demo_results: Callable[[str], Results]) -> None:
    """Each part of the page is reached from the list on the first sheet; derivations of the worst parts only."""
    results = demo_results("flawed")
    page = opened(results)
    page.emulate_media(media="print")
    made = page.pdf()
    links = page.evaluate(
        "[...document.querySelectorAll('#contents a')].map((a) => a.getAttribute('href').slice(1))"
    )
    assert page.locator("#contents").is_visible() and len(links) > 15
    assert page.evaluate("(ids) => ids.filter((id) => !document.getElementById(id))", links) == []
    page.evaluate("window.dispatchEvent(new Event('beforeprint'))")
    assert page.locator("#by_hand tbody tr").count() == 5
    assert "5 of " in page.inner_text("#by_hand")
    assert len(re.findall(rb"/Type\s*/Page\b", made)) <= 50


def test_parts_joined_without_a_wire_are_listed(opened: Opener, demo_results: Callable[[str], Results]) -> None:
    page = opened(demo_results("cart_flawed"))
    unfold(page, "joined")
    cells = page.locator("#joined tbody tr").all_text_contents()
    assert any("terminal BT1.1" in text and "BT1 +" in text and "FU1" in text for text in cells)


def test_a_finding_at_a_joint_is_called_by_its_terminal(
    opened: Opener, demo_results: Callable[[str], Results]
) -> None:
    page = opened(demo_results("cart_flawed"))
    assert "terminal BT1.1" in page.inner_text("#findings")
    assert re.search(r"(?<!\w)@\w", page.inner_text("main")) is None


def test_another_error_of_a_worst_part_has_its_remedy_too(
    opened: Opener, demo_results: Callable[[str], Results]
) -> None:
    """TR1 of the cart is unprotected and would be damaged before the short circuit is cleared: two remedies."""
    page = opened(demo_results("cart_flawed"))
    row = page.locator("#worst tr", has_text="TR1").inner_text()
    assert "1. Use a conductor that is allowed 9.59 A" in row
    assert "2. Choose a rating of at most 4.28 A for FU3" in row


def test_a_table_that_scrolls_inside_itself_says_so_and_a_short_one_is_shown_whole(opened: Opener) -> None:
    """Findings that end on a clean edge of rows hide the next: only very long tables scroll inside."""
    many = tuple(replace(sample().conductors[0], id=f"W{n}") for n in range(100))
    page = opened(replace(sample(), conductors=many))
    unfold(page, "conductors")
    inner = "(w) => w.scrollHeight > w.clientHeight + 1"
    for table, scrolls in (("findings", False), ("conductors", True)):
        assert page.locator(f"#{table} .table-wrap").evaluate(inner) == scrolls
        onwards = page.locator(f"#{table} .sideways", has_text="More rows than are shown")
        assert onwards.is_visible() == scrolls
    page.fill("#conductors input[type=search]", "no such words")
    assert page.inner_text("#conductors tbody") == "No row contains this."


def test_a_part_above_its_limit_is_told_by_how_many_times(opened: Opener) -> None:
    """110 A on 6 A is 18.3 times what is allowed; "1833 % over" would be read as an excess."""
    row = replace(sample().conductors[0], id="W1", allowed_a=6.0, sustained_fault_a=110.0, utilisation=0.03)
    page = opened(replace(sample(), conductors=(row,)))
    assert page.evaluate("numberWords(110, 110 / 6, false, true)") == "110 A · 18.3 ×"
    assert "how many times (×)" in page.inner_text("#picture-hint")


def test_a_part_protected_by_the_band_says_so_in_its_row(opened: Opener) -> None:
    row = replace(sample().conductors[0], id="W1", allowed_a=10.0, sustained_fault_a=11.5, protected=True)
    page = opened(replace(sample(), conductors=(row,)))
    unfold(page, "conductors")
    assert below(page, "conductors", "Protected within the overload band:") == [
        "1.15 times its allowed current may stay"
    ]
