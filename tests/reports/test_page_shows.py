"""What the picture and the charts show: heat, folded branches, and a chart for everything that opens."""

from __future__ import annotations

from dataclasses import replace

from observatory_sample import sample
from test_page import Opener, branching, browser, opened  # noqa: F401 - fixtures

LEVELS = ("u-none", "u-low", "u-mid", "u-near", "u-over")


def test_the_heat_map_is_of_temperatures_against_the_limit(opened: Opener) -> None:  # noqa: F811
    """66.5 of 70 °C is 95 %: the colour of what is near its limit. The hint must not speak of currents then."""
    base = branching(1, 2)
    warm = {"W0.0": 66.5, "W0.1": 35.0}
    conductors = tuple(
        replace(row, temperature_c=warm[row.id], temperature_limit_c=70.0) if row.id in warm else row
        for row in base.conductors
    )
    page = opened(replace(base, conductors=conductors))
    page.select_option("#show-pick", "heat")
    near, cool = (page.locator(f"g.link[aria-label^='{name}:']") for name in warm)
    assert near.locator("text.value").text_content() == "66.5 °C of 70.0"
    assert near.locator(".u-near").count() >= 1
    assert cool.locator(".u-low").count() >= 1
    assert "temperature" in page.inner_text("#picture-hint")
    page.select_option("#show-pick", "load")
    assert "temperature" not in page.inner_text("#picture-hint")


def test_a_folded_branch_has_the_colour_of_the_worst_in_it(opened: Opener) -> None:  # noqa: F811
    """One part of hundreds is far over; it is folded away, and what stands for it says so."""
    base = branching(30, 20)
    fine = [
        replace(row, current_a=1.0, continuous_a=1.0, allowed_a=100.0, utilisation=0.01, sustained_fault_a=2.0)
        for row in base.conductors
    ]
    burnt = next(n for n, row in enumerate(fine) if row.id == "W29.19")
    worse = [*fine[:burnt], replace(fine[burnt], sustained_fault_a=250.0, protected=False), *fine[burnt + 1 :]]
    for rows, level in ((fine, 0), (worse, 1)):
        page = opened(replace(base, conductors=tuple(rows)))
        assert page.locator("g[aria-label^='W29.19:']").count() == 0  # it is folded
        assert page.locator("g.unfold .u-over").count() == level


def test_everything_that_opens_has_a_chart_or_is_named_with_what_is_known(opened: Opener) -> None:  # noqa: F811
    """Fuses and limiters, an output with its own trip, and a channel that is switched off in some arrangement.

    An output without a wire that it protects, and without a time, would be an empty frame: it is named in words.
    """
    base = sample()
    fuse = base.devices[0]
    off = replace(fuse, id="CH9", setting_a=None, settings_a={case.id: None for case in base.cases})
    results = replace(base, devices=(*base.devices, off))
    page = opened(results)
    page.evaluate("document.querySelectorAll('details').forEach((d) => (d.open = true))")
    titles = " ".join(page.locator("#chart-list figcaption").all_text_contents())
    for name in (
        *(row.id for row in results.devices),
        *(row.id for row in results.outputs if row.trip_a is not None),
    ):
        assert (name in titles) != (f"{name} (" in page.inner_text("#undrawn")), name
    assert page.locator("#chart-list figure").count() >= len(results.devices)
    frames = page.evaluate(
        """[...document.querySelectorAll('#chart-list figure > svg')].map(
             (svg) => svg.querySelectorAll('.band, .wire-line').length)"""
    )
    assert min(frames) >= 1
