"""Harnesses that grow: trees with splices, two load cases and parallel contacts, as KiCad's XML netlists.

Invented for the benchmarks, of the mobile telescope cart. ``python trees.py FOLDER 1000 3000`` writes them with so
many wires, each with a settings file that has two load cases.
"""

from __future__ import annotations

import sys
from pathlib import Path
from random import Random
from xml.sax.saxutils import escape, quoteattr

Part = tuple[str, dict[str, str], dict[str, str]]
"""Reference, fields and net by pin."""

SETTINGS = """[case.rest]
state = "rest"

[case.slew]
state = "slew"
"""


def netlist(parts: list[Part]) -> str:
    """The XML export of a drawing with these parts."""
    nets: dict[str, list[tuple[str, str]]] = {}
    text = ['<?xml version="1.0" encoding="utf-8"?>', '<export version="E">']
    text += ["<design><source>x.kicad_sch</source><date/><tool>Eeschema 9.0.8</tool>"]
    text += ['<sheet number="1" name="/" tstamps="/"/></design>', "<components>"]
    for reference, fields, pins in parts:
        listed = "".join(f"<field name={quoteattr(k)}>{escape(v)}</field>" for k, v in fields.items())
        text.append(
            f"<comp ref={quoteattr(reference)}><value>{fields['Role']}</value><fields>{listed}</fields>"
            f'<libsource lib="bench" part="x" description=""/><sheetpath names="/" tstamps="/"/>'
            f"<tstamps>{reference}</tstamps></comp>"
        )
        for pin, net in pins.items():
            nets.setdefault(net, []).append((reference, pin))
    text += ["</components>", "<nets>"]
    for number, (net, ends) in enumerate(nets.items(), start=1):
        listed = "".join(f"<node ref={quoteattr(r)} pin={quoteattr(p)}/>" for r, p in ends)
        text.append(f'<net code="{number}" name={quoteattr(net)}>{listed}</net>')
    return "\n".join([*text, "</nets>", "</export>", ""])


def tree(wires: int, branching: int = 3) -> list[Part]:
    """Feed and return trees alike: a fuse at every branch that begins at a trunk joint, two contacts in parallel at
    every fourth branch, splices at the joints between, a load at every outer end that draws more in a slew.
    """
    r = Random(wires)
    wire = {"Role": "wire", "Gauge": "2.5 mm²", "Length": "0.5 m", "Rating": "20 A", "Insulation": "PVC 70 °C"}
    parts: list[Part] = [
        ("PS1", {"Role": "output", "Voltage": "24 V", "Limit": "200 A", "Trip": "250 A", "Resistance": "1 mΩ"},
         {"1": "f0", "2": "r0"}),
    ]  # fmt: skip
    count, k = 0, 0
    while count < wires:
        above = k // branching
        k += 1
        start = f"f{above}"
        if above < max(1, wires // 60):
            fuse = {"Role": "fuse", "Rating": "10 A", "Curve": "UL 248-14", "Resistance": "2 mΩ"}
            fuse |= {"Voltage rating": "60 V", "Breaking capacity": "10 kA"}
            parts.append((f"F{k}", fuse, {"1": start, "2": f"q{k}"}))
            start = f"q{k}"
        if k % 4 == 0:
            pins = {"1A": start, "1B": f"c{k}", "2A": start, "2B": f"c{k}"}
            parts.append((f"J{k}", {"Role": "through", "Resistance": "2 mΩ", "Rating": "12 A"}, pins))
            start = f"c{k}"
        parts.append((f"W{2 * k}", wire, {"1": start, "2": f"f{k}"}))
        parts.append((f"W{2 * k + 1}", wire, {"1": f"r{k}", "2": f"r{above}"}))
        count += 2
    inner = (k - 1) // branching
    for n in range(inner + 1, k + 1):
        amps = f"{r.uniform(0.5, 1.5) * 120.0 / k:.3g}"
        demand = {
            "Role": "load",
            "Load": f"{amps} A",
            "Load.slew": f"{float(amps) * 1.4:.3g} A",
            "Minimum voltage": "18 V",
        }
        parts.append((f"L{n}", demand, {"1": f"f{n}", "2": f"r{n}"}))
    for n in range(1, inner + 1):
        if n % 2:
            parts.append((f"S{n}", {"Role": "splice", "Rating": "30 A"}, {"1": f"f{n}"}))
    return parts


def many_cases(count: int = 77, wires: int = 112) -> tuple[list[Part], str]:
    """A tree with so many load cases, and its settings: in every case each load draws another share of its most."""
    r = Random(count)
    parts: list[Part] = []
    for name, fields, pins in tree(wires):
        if fields["Role"] == "load":
            most = 1.4 * float(fields["Load"].removesuffix(" A"))
            fields = {k: v for k, v in fields.items() if k != "Load.slew"}
            fields |= {f"Load.s{k}": f"{most * r.uniform(0.1, 1.0):.3g} A" for k in range(count)}
        parts.append((name, fields, pins))
    return parts, "".join(f'[case.c{k}]\nstate = "s{k}"\n\n' for k in range(count))


if __name__ == "__main__":
    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    for text in sys.argv[2:] or ("1000", "3000", "10000", "30000"):
        (folder / f"tree_{text}.xml").write_text(netlist(tree(int(text))), encoding="utf-8")
    (folder / "loadloom.toml").write_text(SETTINGS, encoding="utf-8")
