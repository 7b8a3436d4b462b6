"""Unprepared drawings in people's habits, made by script: stock symbols only, no roles, no fields, no settings.

Library symbols have the pins of KiCad 9's own libraries. Every pin gets a label with the name of its net; a net
called
``GND`` or ``+12V`` has power symbols instead, and a name beginning with ``~`` is drawn as lines without a name.
What each symbol is, and which of its pins is plus, stands beside it: that is what setup has to find out.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from kicad_versions import project_of_six, project_of_ten, schematic_of_ten
from reading_samples import LIBRARY, Project, label, library_pin, library_symbol, line, schematic, symbol

PINS: dict[str, str] = {
    "Device:Battery": "1:+ 2:-",
    "Device:Fuse": "1 2",
    "Device:Polyfuse": "1 2",
    "Device:CircuitBreaker_1P": "1 2",
    "Device:Lamp": "1:- 2:+",
    "Device:Heater": "1 2",
    "Device:R": "1 2",
    "Device:R_Shunt": "1 2 3 4",
    "Device:C_Polarized": "1 2",
    "Device:LED": "1:K 2:A",
    "Device:D_Schottky": "1:K 2:A",
    "Device:D_TVS": "1:A1 2:A2",
    "Device:FerriteBead": "1 2",
    "Device:NetTie_2": "1:1 2:2",
    "Device:Solar_Cells": "1:+ 2:-",
    "Device:Buzzer": "1:+ 2:-",
    "Motor:Motor_DC": "1:+ 2:-",
    "Motor:Fan": "1:+ 2:-",
    "Switch:SW_SPST": "1:A 2:B",
    "Switch:SW_SPDT": "1:A 2:B 3:C",
    "Relay:Relay_SPST-NO": "A1 A2 13 14",
    "Relay:Relay_SPDT": "A1 A2 11 12 14",
    "Transistor_FET:IRLZ44N": "1:G 2:D 3:S",
    "Converter_DCDC:TSR_1-2450": "1:Vin 2:GND 3:Vout",
    "Converter_ACDC:IRM-60-5": "1:AC/L 2:AC/N 3:+Vout 4:-Vout",
    "Connector:Barrel_Jack": "1 2",
    "Connector:Screw_Terminal_01x02": "1:Pin_1 2:Pin_2",
    "Connector:TestPoint": "1:1",
    "Connector_Generic:Conn_01x02": "1:Pin_1 2:Pin_2",
    "Connector_Generic:Conn_01x04": "1:Pin_1 2:Pin_2 3:Pin_3 4:Pin_4",
    "Jumper:SolderJumper_2_Bridged": "1:A 2:B",
    "Mechanical:MountingHole_Pad": "1:1",
    "Simulation_SPICE:VDC": "1 2",
    "Device:R_Potentiometer": "1:1 2:2 3:3",
    "Device:Varistor": "1 2",
    "Device:Crystal": "1:1 2:2",
    "Amplifier_Operational:LM358": "3:+ 2:- 1 8:V+ 4:V-",
    "Own:Router": "1:V+ 2:GND 3:LAN",
    "Own:Camera": "1:VIN 2:GND",
    "Own:ChargeController": "1:PV+ 2:PV- 3:BAT+ 4:BAT-",
    "Own:FuseBlade": "1 2",
    "Own:LiFePO4_Battery": "1:+ 2:-",
    "Own:Contactor": "A1 A2 1 2",
    "Own:Pump_12V": "1:+ 2:-",
    "Own:StepDown": "1:IN+ 2:IN- 3:OUT+ 4:OUT-",
    "Own:Controller": "1:VCC 2:GND 3:GATE1 4:GATE2",
}
POWER = ("GND", "+12V", "+24V", "+5V")


@dataclass(frozen=True)
class Drawn:
    """A symbol of a drawing: its nets by pin, and what it is. ``plus`` is the pin that takes the feed, if that
    matters."""

    reference: str
    library: str
    value: str
    nets: str
    role: str
    plus: str = ""


@dataclass(frozen=True)
class Habit:
    """A drawing: what the next step is once setup has been run with Enter alone."""

    name: str
    symbols: tuple[Drawn, ...]
    next_step: str
    version: str = "9"
    more: dict[str, str] = field(default_factory=dict)

    def write(self, folder: Path) -> Path:
        """Writes the project; gives its schematic."""
        with _Library():
            text = schematic(*self._items())
        project = "{}"
        if self.version == "10":
            text, project = schematic_of_ten(text), project_of_ten("{}", "p")
        elif self.version == "6":
            text = project_of_six({"p.kicad_sch": text}, "p.kicad_sch")["p.kicad_sch"]
        return Project(text, project=project).write(folder)

    def _items(self) -> list[str]:
        items, unnamed = [], {}  # type: ignore[var-annotated]
        for k, part in enumerate(self.symbols):
            x, y = 25.4 * (k % 12), 50.8 * (k // 12)
            items.append(symbol(part.library, part.reference, x, y, value=part.value, name=f"{part.reference}{k}"))
            for n, net in enumerate(part.nets.split()):
                at = x, y - 2.54 * n
                if net == "-":
                    items.append(f"(no_connect (at {at[0]} {at[1]}))")
                elif net in POWER:
                    items.append(symbol(f"power:{net}", f"#PWR0{k}{n}", *at, value=net, name=f"pwr{k}.{n}"))
                elif net.startswith("~"):
                    if net in unnamed:
                        items.append(line("wire", *unnamed[net], *at))
                    unnamed[net] = at
                else:
                    items.append(label("label", net, *at))
        return items


class _Library:
    """Puts the library symbols into the writer's library for a while."""

    def __enter__(self) -> None:
        self.before = dict(LIBRARY)
        for name, pins in PINS.items():
            drawn = [pin.partition(":")[::2] for pin in pins.split()]
            found = [library_pin(number, 0, 2.54 * n, text or "~") for n, (number, text) in enumerate(drawn)]
            LIBRARY[name] = library_symbol(name, {(1, 1): found})
        for name in POWER:
            pin = library_pin("1", 0, 0, "~", "power_in")
            LIBRARY[f"power:{name}"] = library_symbol(f"power:{name}", {(1, 1): [pin]}, "(power)", "#PWR")

    def __exit__(self, *_: object) -> None:
        LIBRARY.clear()
        LIBRARY.update(self.before)


def part(text: str, role: str, plus: str = "") -> Drawn:
    """``BT1 Device:Battery [12V 100Ah] BAT+ GND``: reference, library symbol, value in brackets, nets of its
    pins."""
    head, _, rest = text.partition("[")
    value, _, nets = rest.partition("]")
    reference, library = head.split()
    return Drawn(reference, library, value, nets.strip(), role, plus)


VAN = Habit(
    "van",
    (
        part("BT1 Device:Battery [12V 100Ah] BAT+ GND", "battery", "1"),
        part("F1 Device:Fuse [30A] BAT+ BUS", "fuse"),
        part("F2 Device:Fuse [10A] BUS ~lamps", "fuse"),
        part("F3 Device:Fuse [15A ATO] BUS ~pump", "fuse"),
        part("SW1 Switch:SW_SPST [Lights] ~lamps LIGHT", "switch"),
        part("SW2 Switch:SW_SPST [Pump] ~pump PUMP", "switch"),
        part("LA1 Device:Lamp [12V 21W] LIGHT GND", "load", "1"),
        part("LA2 Device:Lamp [12V 21W] GND LIGHT", "load", "2"),
        part("M1 Motor:Motor_DC [Pump 5A] PUMP GND", "load", "1"),
        part("M2 Motor:Fan [Fan] LIGHT GND", "load", "1"),
    ),
    "State what BT1 can give continuously",
)
JACK = Habit(
    "two-pin connectors as loads, pin 1 at ground",
    (
        part("J1 Connector:Barrel_Jack [DC 12V] VIN GND", "output", "1"),
        part("F1 Device:Polyfuse [2A] VIN FEED", "resettable"),
        *(part(f"J{k} Connector_Generic:Conn_01x02 [{what}] GND FEED", "load", "2")
          for k, what in enumerate(("Dew heater", "Camera", "Focuser", "Conn_01x02", "Conn_01x02"), start=2)),
        part("C1 Device:C_Polarized [470uF] FEED GND", "ignore"),
        part("D1 Device:D_TVS [SMBJ15A] VIN GND", "ignore"),
    ),
    "State what J1 can give continuously",
)  # fmt: skip
TERMINALS = Habit(
    "screw terminals, source by its name",
    (
        part("J1 Connector:Screw_Terminal_01x02 [BATT IN] ~in+ ~in-", "battery", "1"),
        part("F1 Device:Fuse [20A] ~in+ ~a", "fuse"),
        part("F2 Device:Fuse [5A] ~a ~b", "fuse"),
        part("J2 Connector:Screw_Terminal_01x02 [Lamp] ~b ~in-", "load", "1"),
        part("J3 Connector:Screw_Terminal_01x02 [Pump] ~in- ~a", "load", "2"),
        part("J4 Connector:Screw_Terminal_01x02 [USB out] ~a ~in-", "load", "1"),
    ),
    "State the voltage of J1",
)
CART = Habit(
    "contactor with coil, converters as blocks, batteries in series",
    (
        part("BT1 Device:Battery [12V] ~mid 0V", "battery", "1"),
        part("BT2 Device:Battery [12V] ~b+ ~mid", "battery", "1"),
        part("F1 Device:Fuse [60A] ~b+ ~f", "fuse"),
        part("K1 Own:Contactor [Main] COIL 0V ~f MAIN", "contactor"),
        part("SW1 Switch:SW_SPST [Key] ~f COIL", "switch"),
        part("PS1 Own:StepDown [24V to 12V 10A] MAIN 0V +12V 0V", "converter"),
        part("U1 Converter_DCDC:TSR_1-2450 [TSR_1-2450] MAIN 0V +5V", "converter"),
        part("M1 Motor:Motor_DC [Drive 20A] MAIN 0V", "load", "1"),
        part("M2 Motor:Motor_DC [Drive 20A] MAIN 0V", "load", "1"),
        part("J1 Connector_Generic:Conn_01x02 [Router] +12V 0V", "load", "1"),
    ),
    "State the voltage of U1",
)
MOSFET = Habit(
    "transistor switches on a board",
    (
        part("J1 Connector:Screw_Terminal_01x02 [12V IN] +12V GND", "output", "1"),
        part("F1 Device:Fuse [10A] +12V VF", "fuse"),
        part("Q1 Transistor_FET:IRLZ44N [IRLZ44N] ~g1 OUT1- GND", "contactor"),
        part("Q2 Transistor_FET:IRLZ44N [IRLZ44N] ~g2 OUT2- GND", "contactor"),
        part("R1 Device:R [220R] GATE1 ~g1", "load"),
        part("R2 Device:R [220R] GATE2 ~g2", "load"),
        part("D1 Device:D_Schottky [SS54] VF OUT1-", "diode"),
        part("D2 Device:LED [Red] ~led VF", "load"),
        part("R3 Device:R [1k] ~led OUT1-", "load"),
        part("J2 Connector_Generic:Conn_01x02 [LED strip] VF OUT1-", "load", "1"),
        part("J3 Connector_Generic:Conn_01x02 [Heater 4A] VF OUT2-", "load", "1"),
        part("U1 Own:Controller [Controller] VF GND GATE1 GATE2", "load", "1"),
    ),
    "State what J1 can give continuously",
)
RACK = Habit(
    "mains supply, breakers, blocks of the user's own",
    (
        part("PS1 Converter_ACDC:IRM-60-5 [24V 10A] ~l ~n +24V GND", "output", "3"),
        part("CB1 Device:CircuitBreaker_1P [6A] +24V ~r", "breaker"),
        part("CB2 Device:CircuitBreaker_1P [4A] +24V ~c", "breaker"),
        part("A1 Own:Router [Router] ~r GND -", "load", "1"),
        part("A2 Own:Camera [Dome camera 12W] ~c GND", "load", "1"),
        part("A3 Own:Camera [Cart camera 12W] ~c GND", "load", "1"),
        part("J1 Connector_Generic:Conn_01x02 [Mains] ~l ~n", "connector"),
    ),
    "State what PS1 can give continuously",
)
SOLAR = Habit(
    "solar panel and charge controller, version 6",
    (
        part("SC1 Device:Solar_Cells [100W panel] ~pv+ GND", "solar", "1"),
        part("U1 Own:ChargeController [MPPT] ~pv+ GND BAT+ GND", "load", "1"),
        part("BT1 Own:LiFePO4_Battery [12.8 V] BAT+ GND", "battery", "1"),
        part("F1 Own:FuseBlade [25A] BAT+ ~bus", "fuse"),
        part("F2 Own:FuseBlade [5A] ~bus ~l", "fuse"),
        part("R1 Device:Heater [40W] GND ~l", "load", "2"),
        part("P1 Own:Pump_12V [Pump_12V] ~bus GND", "load", "1"),
        part("BZ1 Device:Buzzer [Buzzer] ~l GND", "load", "1"),
    ),
    "State the voltage of SC1",
    "6",
)
ODDS = Habit(
    "everything of the drawer, version 10",
    (
        part("V1 Simulation_SPICE:VDC [24V] +24V GND", "output", "1"),
        part("FB1 Device:FerriteBead [600R] +24V ~a", "switch"),
        part("R1 Device:R_Shunt [1m] ~a - - ~b", "switch"),
        part("NT1 Device:NetTie_2 [NetTie_2] ~b ~c", "splice"),
        part("JP1 Jumper:SolderJumper_2_Bridged [Bridge] ~c ~d", "switch"),
        part("K1 Relay:Relay_SPDT [Relay] COIL GND ~d - ~e", "contactor"),
        part("SW1 Switch:SW_SPDT [Mode] ~f ~e -", "switch"),
        part("H1 Mechanical:MountingHole_Pad [Hole] GND", "chassis"),
        part("TP1 Connector:TestPoint [TestPoint] ~f", "ignore"),
        part("R2 Device:R [4R7] ~f GND", "load"),
        part("R3 Device:R [10k] COIL GND", "load"),
        part("J1 Connector_Generic:Conn_01x04 [To dome] ~f GND COIL GND", "connector"),
    ),
    "State what V1 can give continuously",
    "10",
)
UNNUMBERED = Habit(
    "an unnumbered part",
    (
        part("BT1 Device:Battery [24V] ~+ GND", "battery", "1"),
        part("F? Device:Fuse [10A] ~+ ~a", "left out"),
        part("F1 Device:Fuse [10A] ~+ ~b", "fuse"),
        part("LA1 Device:Lamp [2 A] ~a GND", "load", "1"),
        part("LA2 Device:Lamp [2 A] ~b GND", "load", "1"),
        part("K1 Relay:Relay_SPST-NO [Relay] ~b GND ~b LIGHT", "contactor"),
        part("LA3 Device:Lamp [3 A] GND LIGHT", "load", "2"),
    ),
    "1 symbol has no number yet",
)
DIODES = Habit(
    "two supplies on diodes",
    (
        part("PS1 Simulation_SPICE:VDC [12V] ~p1 GND", "output", "1"),
        part("PS2 Simulation_SPICE:VDC [12V] ~p2 GND", "output", "1"),
        part("D1 Device:D_Schottky [40V 15A] BUS ~p1", "diode"),
        part("D2 Device:D_Schottky [40V 15A] BUS ~p2", "diode"),
        part("F1 Device:Fuse [Fuse] BUS ~l", "fuse"),
        part("R1 Device:R [2.4] ~l GND", "load", "1"),
        part("R2 Device:R [4R7] GND ~l", "load", "2"),
        part("M1 Motor:Fan [Fan] ~l GND", "load", "1"),
    ),
    "Correct what can't be read of R1",
)
BENCH = Habit(
    "a board of signals with one connector called power",
    (
        part("J1 Connector_Generic:Conn_01x02 [IN] SIG GND", "load", "1"),
        part("J2 Connector_Generic:Conn_01x02 [POWER] GND VSUP", "output", "2"),
        part("J3 Connector_Generic:Conn_01x02 [Power LED] VSUP GND", "load", "1"),
        part("RV1 Device:R_Potentiometer [10k] VSUP SIG GND", "load", "1"),
        part("U1 Amplifier_Operational:LM358 [LM358] SIG OUT OUT VSUP GND", "load", "8"),
        part("Y1 Device:Crystal [8 MHz] SIG OUT", "ignore"),
        part("RV2 Device:Varistor [S14K20] VSUP GND", "ignore"),
        part("R1 Device:R [4k7] OUT GND", "load", "1"),
    ),
    "State the voltage of J2",
)
NO_SOURCE = Habit(
    "a board without anything that feeds it",
    (
        part("F1 Device:Fuse [5A] IN ~a", "fuse"),
        part("LA1 Device:Lamp [10W] ~a GND", "load", "1"),
        part("LA2 Device:Lamp [10W] ~a GND", "load", "1"),
        part("J1 Connector_Generic:Conn_01x04 [Conn_01x04] IN IN GND GND", "connector"),
    ),
    "Say what feeds the harness",
)

HABITS = (VAN, JACK, TERMINALS, CART, MOSFET, RACK, SOLAR, ODDS, UNNUMBERED, DIODES, BENCH, NO_SOURCE)
