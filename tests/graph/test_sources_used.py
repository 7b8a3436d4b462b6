"""The list of sources: nothing that a number rests on is left out, and nothing is listed that was not used."""

from __future__ import annotations

import re
from dataclasses import replace

from wired import analysed, device, harness, load, output, wire

from loadloom.graph.devices.curves import shipped_curves
from loadloom.graph.faults import limited_power
from loadloom.graph.faults.power import POWER_CLASSES
from loadloom.graph.model.elements import Band, DeviceKind
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.results import Results
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.graph.ratings import tables

SETTINGS = AnalysisSettings(basis="building-iec", resistance_table="iec-60228-class-5-6")


def of_settings(drawn: Harness) -> Results:
    return analysed(drawn, SETTINGS)


def fused(**out: float) -> Harness:
    """12 V over a fuse of 10 A and 2.5 mm² to a load of 6 A."""
    return harness(
        output("PS1", "p", "m", 12.0, limit_a=40.0, **out),
        device(DeviceKind.FUSE, "FU1", "p", "a", rating_a=10.0, curve="UL 248-14"),
        wire("W1", "a", "b", mm2=2.5, length_m=2.0, insulation="PVC"),
        wire("W2", "c", "m", mm2=2.5, length_m=2.0, insulation="PVC"),
        load("L1", "b", "c", 6.0),
    )


def test_every_kind_of_source_is_listed() -> None:
    """The citations that graph/ratings/sources.csv and graph/devices/sources.csv give for this harness."""
    results = of_settings(fused())
    cited = list(results.sources.values())
    for words in ("IEC 60364-5-52", "IEC 60228", "UL 248-14", "IEC 60949", "60950-1 table 2B", "6.2.2.4"):
        assert any(words in text for text in cited), (words, cited)
    assert len(cited) == len(set(cited))
    assert list(results.sources) == [f"R{n}" for n in range(1, len(cited) + 1)]


def test_sources_of_findings_are_listed() -> None:
    results = of_settings(fused(trip_a=60.0))
    stated = {finding.source for finding in results.findings if finding.source}
    assert stated
    assert {tables.marked(text) for text in stated} <= set(results.sources.values())


PUBLIC = ("NBS Handbook 100", "AC 43.13-1B CHG 1", "CFR")
"""Publications that anybody can read, and whose values were read in them."""


def test_what_was_read_in_a_copy_of_a_paid_standard_says_so() -> None:
    """IEC, UL, NEC, VDE and the like are paid: their values were read second-hand or come from memory."""
    paid = re.compile(r"\b(?:IEC|UL|ISO|NEC|NFPA|BS|VDE|SAE|IPC|CENELEC) ?\d*")
    for results in (of_settings(fused()), of_settings(fused(trip_a=60.0))):
        for text in results.sources.values():
            if paid.search(text) and not text.startswith(PUBLIC):
                assert text.endswith("check your edition"), text
            if text.startswith(PUBLIC):
                assert "check your edition" not in text


def test_the_source_of_a_type_of_wire_is_listed_and_marks_its_rating() -> None:
    """H05V2-K is 90 °C by HD 361, a paid document read in guides; a stated temperature rests on no source."""
    for text, words in (("H05V2-K", "HD 361"), ("style 1007", "UL 758"), ("PVC 70 °C", None)):
        drawn = harness(
            output("PS1", "p", "m", 12.0, limit_a=40.0),
            wire("W1", "p", "b", awg=14, length_m=2.0, insulation=text),
            wire("W2", "c", "m", awg=14, length_m=2.0, insulation=text),
            load("L1", "b", "c", 6.0),
        )
        results = analysed(drawn, AnalysisSettings(basis="marine-33cfr"))  # a public table, with no mark of its own
        rating = next(row.rating for row in results.conductors if row.id == "W1")
        assert rating is not None and rating.allowed_a is not None
        assert rating.check_edition is (words is not None)
        listed = [source for source in results.sources.values() if words and words in source]
        assert bool(listed) is (words is not None)


def test_every_shipped_citation_of_a_paid_standard_has_its_mark() -> None:
    paid = re.compile(r"\b(?:IEC|UL|ISO|NEC|NFPA|BS|VDE|SAE|IPC|CENELEC)\b")
    curves = {each.curve.source for group in shipped_curves().values() for each in group}
    constants = {limited_power.SOURCE, *(each.source for each in POWER_CLASSES)}
    for text in (*tables.citations().values(), *map(tables.marked, (*curves, *constants))):
        if paid.search(text) and not text.startswith(PUBLIC):
            assert "check your edition" in text, text


def test_a_table_of_resistances_is_a_source_where_one_is_taken_from_it() -> None:
    """Stated resistances rest on no table; one conductor without is enough for it."""
    stated = replace(
        fused(), conductors=tuple(replace(w, resistance_ohm=Band.exact(0.01)) for w in fused().conductors)
    )
    one = replace(stated, conductors=(stated.conductors[0], fused().conductors[1]))
    for drawn, listed in ((stated, False), (one, True), (fused(), True)):
        assert any("IEC 60228" in text for text in of_settings(drawn).sources.values()) == listed
