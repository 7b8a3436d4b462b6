"use strict";
/* Puts the page together from the results. */

const CAUTION = "A calculation, not a certification. Local codes and licensed practice come first; measure before you trust. A bad crimp or a loose clamp burns at a legal current, and no device sees it.";

function element(parent, tag, className, text) {
  const made = parent.appendChild(document.createElement(tag));
  if (className) made.className = className;
  if (text !== undefined) made.textContent = text;
  return made;
}

function header() {
  const head = document.getElementById("head"), input = results.input || {};
  element(head, "h1", "", input.title || input.file || "Harness");
  element(head, "p", "title-line", [input.file, input.revision && `revision ${input.revision}`, input.date, input.company, `loadloom ${results.tool_version}`, `report of ${results.date}`, input.sha256 && `SHA-256 ${input.sha256.slice(0, 16)}…`].filter(Boolean).join(" · "));
  const words = { pass: "✓ PASS", fail: "✕ FAIL", incomplete: "? INCOMPLETE" };
  const line = element(head, "p");
  element(line, "span", `verdict ${results.verdict}`, words[results.verdict] || results.verdict);
  const count = (severity) => results.findings.filter((f) => f.severity === severity && !f.accepted).length;
  const plural = (n, word) => `${n} ${word}${n === 1 ? "" : "s"}`;
  element(line, "span", "counts", `${plural(count("error"), "error")}, ${plural(count("warning"), "warning")}, ${plural(count("note"), "note")}, ${results.findings.filter((f) => f.accepted).length} accepted; rating basis ${results.settings.basis || "not stated"}`);
  element(head, "p", "caution", CAUTION);
}

const openTables = new Map();
/** Shows the row of a part, wherever it is. */
function jumpTo(id) {
  const found = rowsById.get(id);
  if (!found) return;
  const table = openTables.get(found.list);
  const row = table && table.reveal(id);
  if (!row) return;
  document.querySelectorAll("tr.hit").forEach((other) => other.classList.remove("hit"));
  row.classList.add("hit");
  row.scrollIntoView({ block: "center" });
  row.focus({ preventScroll: true });
}

function tables() {
  const host = document.getElementById("tables");
  const SEVERITIES = ["error", "warning", "note"];
  const column = (title, key, unit, more = {}) => ({ title, unit, value: typeof key === "function" ? key : (row) => row[key], ...more });
  const add = (name, title, rows, columns, more = {}) => { if (rows && rows.length) openTables.set(name, buildTable(host, { name, title, rows, columns, ...more })); };
  add("findings", "Findings", results.findings, [
    column("Severity", (f) => f.severity, "grade", { order: (f) => SEVERITIES.indexOf(f.severity) }), column("Rule", "rule", "text"),
    column("Where", (f) => f.subject.id ?? f.subject, "id", { jump: true }), column("Sheet", (f) => f.subject.sheet_path, "text"), column("Case", "case", "text"),
    column("Finding", "message", "words"), column("What to do", "remedy", "words"), column("Source", "source", "text"),
    column("Accepted", (f) => (f.accepted ? `${f.accepted.reason} (${f.accepted.by}, ${f.accepted.date})` : null), "text"),
  ], { open: true });
  add("conductors", "Conductors", results.conductors, [
    column("Conductor", "id", "id"), column("Way", "role", "text"), column("From", "from_id", "text"), column("To", "to_id", "text"), column("Gauge", "gauge", "text"), column("Length, m", "length_m", "m"),
    column("Worst, A", "current_a", "A"), column("Steady, A", "continuous_a", "A"), column("Allowed, A", "allowed_a", "A"), column("Used", "utilisation", "share"),
    column("One way open, A", "broken_a", "A"), column("Let-through, A", "let_through_a", "A"), column("Exposure, A", "exposure_a", "A"), column("Protected", "protected", "yesno"), column("By", "protected_by", "list"),
    column("Drop, V", "drop_v", "V"), column("Loss, W", "loss_w", "W"), column("Conductor, °C", "temperature_c", "C"), column("Findings", "findings", "list"),
  ]);
  add("contacts", "Contacts", results.contacts, [
    column("Contact", "id", "id"), column("Way", "role", "text"), column("Type", "contact_type", "text"), column("Loaded positions", "loaded_positions", "n"), column("Worst, A", "current_a", "A"), column("Allowed, A", "allowed_a", "A"), column("Used", "utilisation", "share"),
    column("Uneven, A", "uneven_a", "A"), column("One way open, A", "broken_a", "A"), column("Over rating, chance", "overload_probability", "share"), column("Let-through, A", "let_through_a", "A"), column("Protected", "protected", "yesno"), column("Findings", "findings", "list"),
  ]);
  add("loads", "Loads", results.loads, [
    column("Load", "id", "id"), column("Asks", "demand", "text"), column("Fed by", "fed_by", "list"), column("Current, A", "current_a", "A"), column("Power, W", "power_w", "W"),
    column("Least, V", "voltage_v", "V"), column("Needs, V", "minimum_v", "V"), column("Greatest, V", "voltage_high_v", "V"), column("Stands, V", "maximum_v", "V"), column("Case", "case", "text"), column("Findings", "findings", "list"),
  ]);
  add("outputs", "Outputs", results.outputs, [
    column("Output", "id", "id"), column("Supply", "supply", "text"), column("Voltage, V", "voltage_v", "V"), column("Current, A", "current_a", "A"), column("Limit, A", "limit_a", "A"), column("Trip, A", "trip_a", "A"), column("Power, W", "power_w", "W"), column("Used", "utilisation", "share"), column("Case", "case", "text"),
  ]);
  add("supplies", "Supplies", results.supplies, [
    column("Supply", "id", "id"), column("Power, W", "power_w", "W"), column("May give, W", "allowed_w", "W"), column("Used", "utilisation", "share"), column("Share of nameplate", "load_share", "share"), column("In, W", "input_w", "W"), column("Heat, W", "heat_w", "W"), column("Fan off", "fan_off", "yesno"),
  ]);
  add("devices", "Protective devices", results.devices, [
    column("Device", "id", "id"), column("Kind", "kind", "text"), column("Setting, A", "setting_a", "A"), column("Carries for certain, A", "carries_a", "A"), column("Clears for certain, A", "clears_a", "A"), column("Load current, A", "current_a", "A"),
    column("Window from, A", "window_low_a", "A"), column("to, A", "window_high_a", "A"), column("Lower end by", "window_low_by", "text"), column("Upper end by", "window_high_by", "text"), column("One way open: from, A", "window_one_open_low_a", "A"), column("to, A", "window_one_open_high_a", "A"),
    column("Dead short, A", "prospective_a", "A"), column("Breaks, A", "breaking_capacity_a", "A"), column("Findings", "findings", "list"),
  ], { note: "Window: nominal settings that ride through every case and still protect everything behind the device." });
  add("splices", "Splices", results.splices, [column("Splice", "id", "id"), column("Current, A", "current_a", "A"), column("Allowed, A", "allowed_a", "A"), column("Used", "utilisation", "share")]);
  add("switches", "Switches and diodes", results.switches, [column("Part", "id", "id"), column("Kind", "kind", "text"), column("Current, A", "current_a", "A"), column("Allowed, A", "allowed_a", "A"), column("Used", "utilisation", "share")]);
  add("breaks", "One way open", results.breaks, [column("Opened", "opened", "id", { jump: true }), column("Case", "case", "text"), column("Worst part then", "worst", "text"), column("Carries, A", "worst_current_a", "A"), column("Allowed, A", "worst_allowed_a", "A"), column("Used", (b) => (b.worst_allowed_a && b.worst_current_a !== null ? b.worst_current_a / b.worst_allowed_a : null), "share"), column("Loads that go dark", "dark", "list")]);
  add("faults", "Faults that something holds", results.faults, FAULT_COLUMNS(column));
  add("shorts", "Dead shorts", results.shorts, [column("At the end of", "conductor", "id", { jump: true }), column("Least, A", "least_a", "A"), column("Greatest, A", "greatest_a", "A"), column("Cleared by", "cleared_by", "text"), column("At the latest after, s", "slowest_s", "s"), column("Heat, A²s", "i2t_a2s", "A2s"), column("Stands, A²s", "withstand_a2s", "A2s"), column("Heat in the loop, W", "loop_heat_w", "W")]);
  add("arrangements", "Arrangements side by side", results.arrangements, [column("Arrangement", "arrangement", "id"), column("Trips", "trips", "list"), column("Unprotected", "unprotected", "list"), column("Can't be said", "not_said", "list"), column("Worst fault power, W", "worst_fault_power_w", "W"), column("Worst let-through", "worst_let_through", "text"), column("Times its allowed", "worst_ratio", "ratio"), column("In words", "narrative", "words")], { open: true });
  add("fault_powers", "Power that a fault could draw", results.fault_powers, [column("At", "at", "id"), column("Power, W", "power_w", "W"), column("Held by", "held_by", "text"), column("Within", "within", "list"), column("Exceeds", "exceeds", "list")]);
  add("assumptions", "Assumptions and open points", (results.assumptions || []).map((text) => ({ text })), [column("Assumption", "text", "words")], { open: true });
  add("sources", "Sources", Object.entries(results.sources || {}).map(([id, text]) => ({ source: id, text })), [column("Id", "source", "id"), column("Publication", "text", "words")]);
}
const FAULT_COLUMNS = (column) => [
  column("Fault", "id", "id"), column("At", "at", "text"), column("To", "to", "text"), column("Case", "case", "text"), column("Through it, A", "fault_current_a", "A"), column("Its resistance, Ω", "fault_resistance_ohm", "ohm"), column("Power in it, W", "fault_power_w", "W"),
  column("Held by", "held_by", "text"), column("Worst part", "worst", "text"), column("Carries, A", "worst_current_a", "A"), column("Allowed, A", "worst_allowed_a", "A"), column("Times", (f) => (f.worst_allowed_a && f.worst_current_a !== null ? f.worst_current_a / f.worst_allowed_a : null), "ratio"), column("What it is", "description", "words"),
];

function pictureBar(picture) {
  const bar = document.getElementById("picture-bar");
  const label = element(bar, "label", "", "Case ");
  const select = element(label, "select"); select.id = "case-pick";
  const worst = element(select, "option", "", "worst of all cases"); worst.value = "";
  for (const item of results.cases) { const option = element(select, "option", "", item.id); option.value = item.id; }
  select.addEventListener("change", () => { picture.caseId = select.value; picture.paint(); });
  for (const [text, act, name] of [["+", () => picture.by(1.3), "closer"], ["−", () => picture.by(1 / 1.3), "further away"], ["Fit", () => picture.fit(), "fit the whole picture"]]) {
    const button = element(bar, "button", "", text); button.type = "button"; button.setAttribute("aria-label", name); button.addEventListener("click", act);
  }
  element(bar, "span", "hint", "Width: current. Colour and words: share of the allowed current. Hover or tab to a line to read it; click or press Enter to go to its row.");
  const legend = document.getElementById("legend");
  for (const [className, words] of [...USE_CLASSES, ["u-none", "not rated"]]) {
    const item = element(legend, "span");
    const svg = item.appendChild(document.createElementNS("http://www.w3.org/2000/svg", "svg"));
    d3.select(svg).attr("aria-hidden", "true").append("line").attr("x1", 2).attr("x2", 32).attr("y1", 5).attr("y2", 5).attr("stroke-width", 5).attr("class", className);
    item.append(words);
  }
}

function faultView(picture) {
  const faults = [...(results.faults || [])];
  const section = document.getElementById("faults-view");
  if (!faults.length) { section.hidden = true; return; }
  const ratio = (f) => (f.worst_allowed_a ? f.worst_current_a / f.worst_allowed_a : 0);
  faults.sort((x, y) => ratio(y) - ratio(x));
  const pick = document.getElementById("fault-pick");
  const label = element(pick, "label", "", "Place ");
  const select = element(label, "select"); select.id = "fault-select";
  element(select, "option", "", "none").value = "";
  for (const f of faults) { const option = element(select, "option", "", `${f.at} to ${f.to}: ${f.worst || "?"} at ${fig(ratio(f))} times its allowed current`); option.value = f.id; }
  const words = document.getElementById("fault-words");
  const show = () => {
    const f = faults.find((other) => other.id === select.value);
    picture.marked = new Set();
    if (!f) { words.textContent = "Pick a place to see what would flow there and what trips."; picture.paint(); return; }
    const band = f.resistance_band_ohm ? ` Nothing opens for any fault resistance from ${quantity(f.resistance_band_ohm[0], "Ω")} to ${quantity(f.resistance_band_ohm[1], "Ω")}.` : "";
    words.textContent = `${f.description ? f.description + " " : ""}Fault from ${f.at} to ${f.to}${f.case ? ` in case ${f.case}` : ""}: ${quantity(f.fault_current_a, "A")} through ${quantity(f.fault_resistance_ohm, "Ω")}, ${quantity(f.fault_power_w, "W")} burning in it. ${f.held_by ? `${f.held_by} is just about not to open.` : "No device stands in its way."} ${f.worst || "The worst part"} carries ${quantity(f.worst_current_a, "A")}, allowed ${quantity(f.worst_allowed_a, "A")}.${band}`;
    for (const text of [f.worst, f.held_by, ...[f.at, f.to].flatMap((place) => (place || "").split("|").map((p) => p.replace(/:[\d.]+$/, "")))]) if (text) picture.marked.add(text);
    picture.paint();
  };
  select.addEventListener("change", show);
  show();
}

header();
const detail = document.getElementById("detail");
detail.textContent = "Nothing picked yet.";
const picture = new HarnessPicture(document.getElementById("harness"), (words) => { detail.textContent = words; }, jumpTo);
pictureBar(picture);
faultView(picture);
tables();
const charted = (results.devices || []).filter((d) => d.band && d.band.length);
if (charted.length) for (const device of charted) deviceChart(document.getElementById("chart-list"), device);
else document.getElementById("charts").hidden = true;
window.addEventListener("resize", () => picture.fit());
window.addEventListener("beforeprint", () => { for (const table of openTables.values()) table.drawAll(); picture.fit(); });
