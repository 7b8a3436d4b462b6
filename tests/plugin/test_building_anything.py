"""Whatever is drawn, building a harness ends in a harness: no error, ids that are unique, the same every time."""

from drawings import drawing
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from loadloom.graph.model.elements import Element
from loadloom.graph.model.harness import Harness
from loadloom.graph.model.settings import AnalysisSettings
from loadloom.plugin.building import build_harness
from loadloom.plugin.drawing import Net, Pin, PinRef, Symbol
from loadloom.plugin.drawing_settings import DrawingSettings, NetValues, WireValues
from loadloom.plugin.roles import FIELDS, Role, RoleRule, RoleRules
from loadloom.plugin.values import gauge

REFERENCES = ["W1", "W2", "J1", "J2", "P1", "P10", "X1", "F1", "C1", "PS1", "LD1", "SP1"]
NUMBERS = ["1", "2", "3", "1A", "1B", "2A", "A", "K", "S+"]
TEXTS = [
    "18 AWG",
    "1 m",
    "5 A",
    "12 V",
    "none",
    "J1",
    "P1",
    "16",
    "=1",
    "",
    "2",
    "1 2 / 3",
    "500 W",
    "open",
    "\x00",
]
NAMES = sorted({name for fields in FIELDS.values() for name in fields.names})

fields = st.dictionaries(
    st.tuples(
        st.sampled_from([*NAMES, "Role", "Lenght", "MPN", "GAUGE", "a.b@c"]),
        st.sampled_from(["", "", ".1", ".2", ".9", "."]),
        st.sampled_from(["", "", "@idle", "@Idle", "@"]),
    ).map("".join),
    st.one_of(st.sampled_from(TEXTS), st.text(max_size=12)),
    max_size=6,
)


@st.composite
def symbols(draw: st.DrawFn) -> list[Symbol]:
    made = []
    for reference in draw(st.lists(st.sampled_from(REFERENCES), unique=True, max_size=7)):
        numbers = draw(st.lists(st.sampled_from(NUMBERS), unique=True, max_size=4))
        names = st.sampled_from(["", "+", "-", "A", "K", "S+"])
        role = draw(st.one_of(st.none(), st.sampled_from([*Role, "fues"])))
        sheet = draw(st.sampled_from(["/", "/A/"]))
        made.append(
            Symbol(
                reference=reference,
                value=draw(st.sampled_from(TEXTS)),
                library_id="lib:part",
                pins=tuple(Pin(number, draw(names)) for number in numbers),
                fields=({"role": str(role)} if role else {}) | draw(fields),
                dnp=draw(st.booleans()),
                sheet_path=sheet,
                instance_path=sheet,
                uuids=(draw(st.sampled_from(["u1", "u2", reference])),),
            )
        )
    return made


@st.composite
def drawings(draw: st.DrawFn) -> tuple[list[Symbol], list[Net]]:
    parts = draw(symbols())
    pins = [PinRef(symbol.reference, pin.number) for symbol in parts for pin in symbol.pins]
    joined: dict[int, list[PinRef]] = {}
    for pin in draw(st.permutations(pins)):
        joined.setdefault(draw(st.integers(0, 5)), []).append(pin)
    nets = [
        Net(
            name=draw(st.sampled_from([f"N{k}", f"/N{k}"])) if k else "W1",
            pins=tuple(there),
            named_by_user=draw(st.booleans()),
            classes=draw(st.sampled_from([(), ("Feed",), ("Feed", "Thin"), ("Other",)])),
            power_symbol=draw(st.booleans()),
        )
        for k, there in joined.items()
    ]
    return parts, nets


DRAWING_SETTINGS = DrawingSettings(
    roles=RoleRules(by_reference={"W": RoleRule(Role.WIRE), "J": RoleRule(Role.CONNECTOR)}),
    wire_classes={"Feed": WireValues(gauge("18 AWG"), 1.0), "Thin": WireValues(gauge("0.22 mm²"))},
    nets={"N1": NetValues(star=False, pins=("J1.1",)), "/N2": NetValues(joint=True), "@J1.1": NetValues()},
)


def everything(harness: Harness) -> tuple[Element, ...]:
    return (*harness.two_ended, *harness.outputs, *harness.loads, *harness.splices, *harness.chassis)


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(drawings())
def test_building_never_fails(drawn: tuple[list[Symbol], list[Net]]) -> None:
    parts, nets = drawn
    harness = build_harness(drawing(parts, nets), AnalysisSettings(), DRAWING_SETTINGS)
    ids = [element.id for element in everything(harness)]
    assert len(ids) == len(set(ids))
    assert all(finding.message.endswith(".") and finding.remedy.endswith(".") for finding in harness.findings)
    contacts = {contact.id for contact in harness.contacts}
    for connector in harness.connectors:
        assert set(connector.contact_ids) <= contacts
        assert {id for row in connector.rows for id in row} <= set(connector.contact_ids)
    for case in harness.cases(AnalysisSettings()):
        for element in everything(harness):
            element.under(case.state)
            element.under(case.arrangement)
    assert harness.graph.number_of_edges() == len(harness.two_ended) + len(harness.outputs)
    again = build_harness(drawing(parts[::-1], nets[::-1]), AnalysisSettings(), DRAWING_SETTINGS)
    assert again == harness
