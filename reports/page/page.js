"use strict";
/* Puts the page together from the results. */

const CAUTION = "A calculation, not a certification. Local codes and licensed practice come first; measure before you trust. A bad crimp or a loose clamp burns at a legal current, and no device sees it.";

function header() {
  const head = document.getElementById("head"), input = results.input || {};
  const file = (input.file || "").split(/[\\/]/).pop();
  element(head, "h1", "", clip(input.title || file || "Harness", 200));
  element(head, "p", "title-line", [file && clip(file, 120), input.revision && `revision ${clip(input.revision, 60)}`, input.date && clip(input.date, 40), input.company && clip(input.company, 120), `report of ${results.date}`].filter(Boolean).join(" · "));
  const words = { pass: "✓ PASS", fail: "✕ FAIL", incomplete: "? INCOMPLETE" };
  const line = element(head, "p", "verdict-line");
  element(line, "span", `verdict ${results.verdict}`, `${results.about && results.about.kind !== "as drawn" ? `${results.about.kind.toUpperCase()}: ` : ""}${words[results.verdict] || results.verdict}`);
  const count = (severity) => results.findings.filter((f) => f.severity === severity && !f.accepted).length;
  element(line, "span", "counts", `${plural(count("error"), "error")}, ${plural(count("warning"), "warning")}, ${plural(count("note"), "note")}, ${results.findings.filter((f) => f.accepted).length} accepted with a reason`);
  head.append(document.getElementById("lead"));
  coverNote(element(head, "dl", "cover"));
  const ruleBooks = results.settings.rule_sets || [], basis = clip(results.settings.basis || "not stated", 80);
  element(head, "p", "counts small", `Judged in ${plural(allCases.length, "load case")} with ${plural(results.assumptions.length, "assumption")}. Allowed currents by the basis “${basis}”${extra.basis ? ` (${clip(extra.basis, 200)})` : ""}${results.settings.basis_stated === false ? ", which is assumed: the settings state none" : ""}${extra.checked ? "; rating tables in part from second-hand copies or memory: check your edition" : ""}${ruleBooks.length ? `; rule books ${clip(ruleBooks.join(", "), 80)}` : ""}. ${[`loadloom ${results.tool_version}`, input.made ? `made ${input.made}` : null, input.sha256 && `SHA-256 ${input.sha256.slice(0, 16)}…`].filter(Boolean).join(" · ")}`);
  caseWords();
  element(head, "p", "caution", CAUTION);
}

/** Each line answers one question; what it leads to is linked. */
function coverNote(host) {
  host.setAttribute("aria-label", "In short");
  for (const { head, texts, to } of extra.cover) {
    const target = { settings: settingsFirst(), wire: WIRE_TO_ORDER }[to];
    element(host, "dt", "", head);
    const said = element(host, "dd", to && !target ? "worst" : "");
    const lines = texts.length > 1 ? element(said, to === "settings" ? "ul" : "ol") : null;
    for (const text of texts) element(lines ?? said, lines ? "li" : "span", "", clip(text, 700));
    if (target) { const a = element(said, "a", "more-of", to === "settings" ? "All settings" : "Order list"); a.href = `#${target}`; a.addEventListener("click", () => { document.getElementById(target).open = true; }); }
    if (to && !target && rowsById.has(to)) { const button = element(said, "button", "plain more-of", `Row of ${clip(to, 30)}`); button.type = "button"; button.addEventListener("click", () => jumpTo(to)); }
  }
  host.hidden = !extra.cover.length;
}
/** The table of settings that stands first: that of channels, where there are any. */
function settingsFirst() { return extra.settings.some((line) => line.kind === "limiter") ? "settings" : "fuse_settings"; }

/** What the name of a load case says, at the first place where such names stand. */
function caseWords() {
  const own = allCases.filter((c) => !allCases.some((short) => short.for_a_time && c.id.startsWith(short.id))), brief = allCases.find((c) => c.for_a_time);
  const told = own.find((c) => c.state && c.arrangement) ?? own.find((c) => c.arrangement) ?? own.find((c) => c.state), said = [];
  if (told) {
    const parts = [told.state && `the loads in the state ${told.state} (fields such as Load@${told.state})`, told.arrangement && `the protection in the arrangement ${told.arrangement} (fields such as Trip@${told.arrangement})`].filter(Boolean).join(", ");
    said.push(`The load case “${clip(told.id, 80)}” is ${clip(parts, 300)}: words of the drawing's own. “Nominal” and “as drawn” are what the plain fields say.`);
  }
  if (brief) said.push(`The load case “${clip(brief.id, 80)}” lasts for a time only: loadloom adds such cases for starts and the switching on of loads.`);
  const host = document.getElementById("case-words");
  host.hidden = !said.length; host.textContent = said.join(" ");
}

/** Limit and trip are two numbers: a fault may hold more than the one, and never more than the other's upper end. */
const OUTPUTS_NOTE = "Limit: the most that loads may ask of the output. Trip: where it switches off by itself. A fault can hold all that stays below the upper end of the trip, which may be more than the limit. Each current is the greatest of its own output, at its own corner of the tolerances: two outputs need not give theirs at once.";
/** Tables of advice with more rows than this are closed at first, save the first of them. */
const ADVICE_OPEN = 40;
const openTables = new Map();
/** Shows the row of a part, wherever it is. */
function jumpTo(id) {
  const found = rowsById.get(id), row = found && openTables.get(found.list)?.reveal(id);
  if (!row) return;
  document.querySelectorAll("tr.hit").forEach((other) => other.classList.remove("hit"));
  row.classList.add("hit");
  row.scrollIntoView({ block: "center" });
  row.focus({ preventScroll: true });
}

function tables(picture) {
  const host = document.getElementById("tables");
  /** Microseconds and seconds stand in one column: in milliseconds none needs a power of ten. */
  const inMs = (key) => (row) => (known(row[key]) ? 1000 * row[key] : null);
  const SEVERITIES = ["error", "warning", "note"];
  const column = (title, key, unit, more = {}) => ({ title, unit, value: typeof key === "function" ? key : (row) => row[key], ...more });
  const maybe = { optional: true }, below = { optional: true, below: true };
  const hottest = new Set([...(results.fault_powers || [])].sort((x, y) => (y.power_w ?? Infinity) - (x.power_w ?? Infinity)).slice(0, 20));
  const worstShown = new Set(byWorse().slice(0, 5).map(({ row }) => row.id));
  /** Why a part is not protected, in the line below its row. */
  const inBand = column("Protected within the overload band:", (row) => (row.protected === true && isOver(held(row, "sustained_fault_a").share) ? `${fig(held(row, "sustained_fault_a").share)} times its allowed current may stay` : null), "words", below);
  const notProtected = column("NOT protected:", (row) => extra.unprotected[row.id], "words", below);
  const add = (name, title, rows, columns, more = {}) => {
    if (!rows || !rows.length) return;
    const table = new Table(more.first ? document.getElementById("first-tables") : host, { name, title, rows, columns: typeof columns === "function" ? columns : () => columns, ...more });
    const ofFaults = name === "faults"; // their ids are names of their own
    table.shows = (id) => (ofFaults ? faultView.byId.has(id) : picture.has(id));
    table.reach = (id) => { if (ofFaults) showFault(id); else { picture.show(id); tellPart(id); } };
    table.redraw();
    openTables.set(name, table);
  };
  /** Columns for the cases picked; none while the worst of all is shown, which has its own. */
  const inCase = (...columns) => (pickedCases().length ? columns : []);
  const now = column("In the case picked, A", (row) => worstPicked(row)[1], "A"), nowUsed = column("Used in it, %", (row) => usePicked(row), "share");

  settingTables(add, column);
  const orders = extra.order.map((table) => ({ ...table, id: table.name.toLowerCase().replace(/ /g, "_") }));
  const addOrder = ({ id, name, note, columns }, more) => add(id, name, columns[0].values.map((_, n) => columns.map((c) => c.values[n])), columns.map((c, n) => column(c.kind === "share" ? `${c.title}, %` : c.title, (row) => row[n], c.kind, { optional: true, plain: c.title === "Pieces" ? undefined : 0 })), { note, ...more });
  for (const table of orders.filter((t) => t.id === WIRE_TO_ORDER)) addOrder(table, { open: true, first: true });
  add("open_points", "Open points", extra.open_points, [column("No.", "number", "count"), column("Part", (p) => subjectName(p.part), "id", { jump: (p) => p.part }), column("Kind", "kind", "text"), column("Open point", "line", "words"), column("Owner", (p) => p.owner || " ", "text"), column("Due", (p) => p.due || " ", "text"), column("State", "state", "text")], { open: extra.open_points.length <= 12, first: true, note: "Every open error, in the order of the worst parts, then every part whose rating or protection is not determined; settings whose range is not determined stand above. How each comes about and what to do stands with its rule in the findings below. Owner, due and state are to be filled in on the print or in the workbook; what is written as [[open_point]] into the settings file (loadloom.toml beside the drawing) stands in the next report as well." });
  add("accepted", "Accepted findings", results.findings.filter((f) => f.accepted), [column("Part", (f) => subjectName(f.subject), "id", { jump: (f) => f.subject }), column("Rule", "rule", "text"), column("Finding", "message", "words"), column("Reason", (f) => f.accepted.reason, "words"), column("By", (f) => f.accepted.by, "text"), column("Date", (f) => f.accepted.date, "short"), column("Until", (f) => f.accepted.until ?? "no end stated", "text")], { open: true, first: true, note: "Found, looked at and accepted by somebody with a reason; they do not count against the verdict." });
  if (extra.since) add("changes", `Changed since ${extra.since.old.revision ? `revision ${extra.since.old.revision}` : extra.since.old.date}`, extra.since.changes, [column("Part", (c) => subjectName(c.part), "id", { jump: (c) => c.part }), column("Effect", "effect", "text"), column("Kind", "kind", "text"), column("What", "what", "text"), column("Before", "old", "words"), column("After", "new", "words"), column("By", "by", "short")], { open: true, first: true, note: extra.since.headline });
  add("findings", "Findings", results.findings, [
    column("Severity", (f) => (f.accepted ? `accepted ${f.severity}` : f.severity), "grade", { order: (f) => SEVERITIES.indexOf(f.severity) }), column("Rule", "rule", "text"),
    column("Where", (f) => subjectName(f.subject), "id", { jump: (f) => f.subject }), column("Sheet", (f) => f.where?.sheet_path, "text", { optional: true, plain: "/", screen: true }), column("Load case", "case", "text", maybe),
    column("Finding", "message", "words"), column("Remedy", "remedy", "words"), column("Source:", "source", "words", { optional: true, screen: true, below: true }),
    column("Accepted:", (f) => (f.accepted ? `${f.accepted.reason} (${f.accepted.by}, ${f.accepted.date})` : null), "words", below),
  ], { open: true, group: results.findings.length > 12 ? {
    words: "one of each rule", by: (f) => `${f.severity} ${f.rule} ${f.accepted ? "accepted" : ""}`, name: (f) => f.rule,
    weight: (f) => (f.value > 0 && f.limit > 0 ? Math.abs(Math.log(f.value / f.limit)) : 0),
  } : null });
  add("conductors", "Conductors", results.conductors, () => [
    column("Conductor", "id", "id"), column("Kind", "role", "text"), column("From", (row) => extra.ends[row.id]?.[0], "text"), column("To", (row) => extra.ends[row.id]?.[1], "text"), column("Size", "gauge", "short"), column("Length, m", "length_m", "m"),
    ...inCase(now, nowUsed),
    column("Worst, A", "current_a", "A"), column("Continuous, A", "continuous_a", "A"), column("Allowed, A", "allowed_a", "A"), column("Utilisation, %", "utilisation", "share"),
    column("Sustained fault current, A", "sustained_fault_a", "A"), column("Protected", "protected", "yesno"), column("By", "protected_by", "names"), column("Findings", "findings", "list"), notProtected, inBand,
    column("Combined overload current, A", "combined_overload_a", "A"), column("Open circuit elsewhere, A", "open_circuit_a", "A", maybe),
    column("Resistance, mΩ", (row) => (known(row.resistance_ohm) ? 1000 * row.resistance_ohm : null), "mohm"), column("Drop, mV", (row) => (known(row.drop_v) ? 1000 * row.drop_v : null), "mV"), column("Loss, W", "loss_w", "W"), column("Conductor, °C", "temperature_c", "C", maybe), column("Allowed as:", (row) => ratingWords(row.rating), "words", { screen: true, below: true }),
  ], { note: `Sustained fault current: the most that one fault can hold on it continuously. Combined overload current: the same with several overloads at once. ${extra.checked}` });
  add("contacts", "Contacts", results.contacts, () => [
    column("Contact", "id", "id"), column("Kind", "role", "text"), column("Type", "contact_type", "text"), column("Loaded positions", "loaded_positions", "count"), ...inCase(now, nowUsed), column("Worst, A", "current_a", "A"), column("Continuous, A", "continuous_a", "A"), column("Allowed, A", "allowed_a", "A"), column("Utilisation, %", "utilisation", "share"),
    column("Sustained fault current, A", "sustained_fault_a", "A"), column("Protected", "protected", "yesno"), column("By", "protected_by", "names"), column("Findings", "findings", "list"), notProtected, column("Uneven, A", "uneven_a", "A"), column("Open circuit elsewhere, A", "open_circuit_a", "A"), column("Over rating, chance in %", "overload_probability", "share"), column("Allowed as:", (row) => ratingWords(row.rating), "words", { screen: true, below: true }),
  ]);
  add("loads", "Loads", results.loads, () => [
    column("Load", "id", "id"), column("Function", "function", "text"), column("Asks", "demand", "text"), column("Fed by", "fed_by", "list"), ...inCase(now), column("Current, A", "current_a", "A"), column("Power, W", "power_w", "W"),
    column("Least, V", "voltage_v", "V"), column("Needs, V", "minimum_v", "V"), column("Greatest, V", "voltage_high_v", "V"), column("Stands, V", "maximum_v", "V"), column("Load case", "case", "text"), column("Findings", "findings", "list"),
  ]);
  add("starts", "Starts, inrush and stalls", results.starts, [column("Load", "id", "id", { jump: true }), column("Kind", "kind", "text"), column("Load case", "case", "text"), column("Current, A", "current_a", "A"), column("Lasts, ms", inMs("duration_s"), "ms"), column("Heat", "i2t_a2s", "A2s"), column("Least of a stall, A", "least_a", "A", maybe), column("Opens", "cleared_by", "list", maybe), column("At the soonest, ms", inMs("opens_fastest_s"), "ms", maybe), column("At the latest, ms", inMs("opens_slowest_s"), "ms", maybe)]);
  add("outputs", "Outputs", results.outputs, () => [
    column("Output", "id", "id"), column("Supply", "supply", "text", { jump: true }), column("Voltage, V", "voltage_v", "V"), ...inCase(now, nowUsed), column("Current, A", "current_a", "A"), column("Limit, A", "limit_a", "A"), column("Trip, A", "trip_a", "A"), column("Power, W", "power_w", "W"), column("Utilisation, %", "utilisation", "share"), column("Run time, h", (o) => (known(o.run_time_s) ? o.run_time_s / 3600 : null), "ratio", maybe), column("Load case", "case", "text"),
  ], { note: OUTPUTS_NOTE });
  add("converters", "Converters", (results.converters || []).flatMap((c) => Object.entries(c.cases || {}).map(([name, there]) => ({ ...c, ...there, case: name }))), [
    column("Converter", "id", "id", { jump: true }), column("Load case", "case", "text"), column("At its input, V", "input_v", "V"), column("Needs, V", "input_minimum_v", "V", maybe), column("Into it, A", "input_a", "A"), column("Takes, A", "input_limit_a", "A", maybe), column("Into it, W", "input_w", "W"), column("Out of it, W", "output_w", "W"), column("Efficiency used, %", "efficiency", "share"), column("Heat, W", "heat_w", "W"), column("Runs", "running", "yesno"), column("Isolated", (c) => (c.isolated === true ? "yes" : c.isolated === false ? "no" : null), "short"),
  ], { note: "In each load case the steady state in which the input draws most. Its output is among the outputs, its input among the loads." });
  add("supplies", "Supplies", results.supplies, [
    column("Supply", "id", "id"), column("Power, W", "power_w", "W"), column("May give, W", "allowed_w", "W"), column("Utilisation, %", "utilisation", "share"), column("Share of nameplate, %", "load_share", "share"), column("Derating", (s) => (s.factors || []).map((f) => `${percent(f.factor)} (${f.reason})`).join(" × ") || null, "text", maybe), column("Inside, °C", "inside_c", "C"), column("In, W", "input_w", "W"), column("Heat, W", "heat_w", "W"), column("Fan", (s) => ({ true: "stays off", false: "runs" })[s.fan_off] ?? "not determined", "text"),
  ]);
  add("devices", "Protective devices", results.devices, () => [
    column("Device", "id", "id"), column("Kind", "kind", "text"), column("Setting, A", "setting_a", "A"), ...inCase(column("Setting in the case picked, A", (d) => { const set = pickedCases().map((id) => settingIn(d, id)).filter(known); return set.length ? Math.max(...set) : null; }, "A"), now, nowUsed), column("Non-tripping current, A", "non_tripping_a", "A"), column("Tripping current, A", "tripping_a", "A"), column("Load current, A", "current_a", "A"),
    column("Setting range from, A", "setting_low_a", "least"), column("Setting range to, A", "setting_high_a", "most"), column("The setting is", (d) => extra.stands[d.id], "stands"), column("Protects", (d) => extra.protects[d.id] ?? d.protects, "list"), column("Findings", "findings", "list"), column("Too high:", (d) => extra.found_elsewhere[d.id], "words", below), column("Lower end:", "setting_low_because", "words", below), column("Upper end:", "setting_high_because", "words", below), column("About the range:", "setting_range_note", "words", below), column("Behind it, but not protected by it:", (d) => extra.otherwise[d.id], "words", below), column("One open circuit: from, A", "setting_one_open_low_a", "least"), column("One open circuit: to, A", "setting_one_open_high_a", "most"),
    column("Short circuit, A", "prospective_a", "A"), column("Breaking capacity, A", "breaking_capacity_a", "A"),
  ], { note: "Setting range: nominal settings that ride through every case and still protect everything behind the device. Protects: parts whose own rows say that they are protected by this device. What lies behind it too, but is protected by another device or by none, stands below with the reason." });
  add("splices", "Splices", results.splices, [column("Splice", "id", "id"), ...JUNCTION_COLUMNS(column)]);
  add("switches", "Switches and diodes", results.switches, [column("Part", "id", "id"), column("Kind", "kind", "text"), ...JUNCTION_COLUMNS(column)]);
  add("open_circuits", "One open circuit", results.open_circuits, [column("Opened", "opened", "id", { jump: true }), column("Load case", "case", "text"), column("Worst part then", "worst", "id", { jump: true }), column("Carries, A", "worst_current_a", "A"), column("Allowed, A", "worst_allowed_a", "A"), column("Utilisation, %", (b) => (b.worst_allowed_a && b.worst_current_a !== null ? b.worst_current_a / b.worst_allowed_a : null), "share"), column("Loads that lose supply", "loses_supply", "list")], { paper: [(b) => !b.worst_allowed_a ? b.worst !== null : !(b.worst_current_a / b.worst_allowed_a <= 0.8), "those that leave another part above 80 % of what it is allowed"] });
  add("faults", "Faults that something holds", [...(results.faults || [])].sort((x, y) => timesAllowed(y) - timesAllowed(x)), FAULT_COLUMNS(column), { paper: [(f) => !(f.worst_allowed_a && f.worst_current_a <= f.worst_allowed_a), "those that overload a part"] });
  add("short_circuits", "Short circuits", results.short_circuits, [column("Conductor", "conductor", "id", { jump: true }), column("Short at its end", (s) => placeName(s.at), "text"), column("Least, A", "least_a", "A"), column("Greatest, A", "greatest_a", "A"), column("Its own, short at the other end, A", "at_source_end_a", "A", maybe), column("Cleared by", (s) => s.cleared_by ?? ((s.findings || []).includes("fault-never-cleared") ? "✕ NOTHING" : `nothing at its least, ${quantity(s.least_a, "A")}: all of its loop may carry that`), "text", { jump: true }), column("At the latest after, s", "slowest_s", "s"), column("While off", "outputs_off", "list", maybe), column("Heat", "i2t_a2s", "A2s"), column("Stands a heat of", (s) => (s.adiabatic_in_range === false ? null : s.withstand_a2s), "A2s"), column("Heat in the loop, W", "loop_heat_w", "W")], { note: "Least and greatest: what flows into a short at the end named, from everything that feeds it. Its own: what the conductor itself carries in a short at its other end. A heat that it stands is told for up to 5 s; what takes longer is judged by the current, in its finding." });
  add("arrangements", "Arrangements side by side", results.arrangements, [column("Arrangement", "arrangement", "id"), column("Trips", "trips", "list"), column("Unprotected", "unprotected", "list"), column("Not determined", "not_determined", "list"), column("Greatest power in a fault that is the worst for a part, W", "worst_fault_power_w", "W"), column("Worst sustained fault current", "worst_sustained_fault", "text", { jump: true }), column("Times its allowed", "worst_ratio", "ratio"), column("In words:", "narrative", "words", below)], { open: true, note: "An arrangement is a way of running the same harness with other settings of the protection, named by the word behind @ in the drawing's fields (“pooled” by Trip@pooled); “as drawn” is what the plain fields say. Where a channel is off in one, what lies behind it hangs on the device before it. Each is judged with every state of the loads. At places where no part is worst off a fault may draw more power: see the power that a fault could draw." });
  add("fault_powers", "Power that a fault could draw, short circuits included", results.fault_powers, [column("At", (f) => placeName(f.at), "id"), column("Power, W", "power_w", "W"), column("Held by", "held_by", "text", { jump: true }), column("Within", "within", "list"), column("Exceeds", "exceeds", "list")], { paper: [(f) => hottest.has(f), "the twenty of the most power"] });
  add("joined", "Joined without a wire", extra.joined, [column("Joint", "joint", "id"), column("Parts that meet there", "parts", "list"), column("Wires that end there", "conductors", "list")], { note: "The grey lines of the picture: the drawing joins these parts directly, with no wire, cable or track between them. Such a joint has no resistance, length or rating here, is not checked, and is in no order list. Where copper lies between, draw it." });
  add("by_hand", "How the currents come about, by hand", [...results.conductors, ...results.contacts].filter((row) => (row.explanation || []).length), [column("Part", "id", "id", { jump: true }), column("How its allowed and its sustained fault current come about", (row) => row.explanation.join("\n"), "words")], { paper: [(row) => worstShown.has(row.id), "the worst parts of the first page"] });
  for (const table of orders.filter((t) => t.id !== WIRE_TO_ORDER)) addOrder(table, {});
  add("rules", "What the findings mean", extra.rules, [column("Rule", "rule", "id"), column("Title", "title", "text"), column("Meaning", "meaning", "words"), column("Formula", "formula", "words"), column("Source", "source", "words")]);
  add("files", "Files that this rests on", extra.files, [column("File", "file", "id"), column("Kind", "kind", "text"), column("SHA-256", "sha256", "words"), column("Saved", "saved", "text")]);
  add("assumptions", "Assumptions", (results.assumptions || []).map((text) => ({ text })), [column("Assumption", "text", "words")], { open: true });
  add("sensitivity", "Under worse conditions", results.sensitivity, [column("Condition", "condition", "words"), column("Further parts that fail or rely on the overload band", "fails", "count"), column("First of them", "first", "list"), column("Judged", "judged", "words")]);
  add("sources", "Sources", Object.entries(results.sources || {}).map(([id, text]) => ({ source: id, text })), [column("Id", "source", "id"), column("Publication", "text", "words")]);
}
const JUNCTION_COLUMNS = (column) => [
  column("Current, A", "current_a", "A"), column("Allowed, A", "allowed_a", "A"), column("Utilisation, %", "utilisation", "share"), column("Sustained fault current, A", "sustained_fault_a", "A"), column("Protected", "protected", "yesno"), column("Findings", "findings", "list"),
];
const timesAllowed = (f) => (f.worst_allowed_a && known(f.worst_current_a) ? f.worst_current_a / f.worst_allowed_a : 0);
const FAULT_COLUMNS = (column) => [
  column("Fault", "id", "id"), column("At", (f) => placeName(f.at), "text"), column("To", (f) => (f.at.split("|").includes(f.to) ? null : placeName(f.to)), "text"), column("Load case", "case", "text"), column("Through it, A", "fault_current_a", "A"), column("Its resistance, Ω", "fault_resistance_ohm", "ohm"), column("Power in it, W", "fault_power_w", "W"),
  column("Held by", "held_by", "text", { jump: true }), column("Worst part", "worst", "id", { jump: true }), column("Carries, A", "worst_current_a", "A"), column("Allowed, A", "worst_allowed_a", "A"), column("Times", (f) => (f.worst_allowed_a && f.worst_current_a !== null ? f.worst_current_a / f.worst_allowed_a : null), "ratio"), column("What it is:", "description", "words", { below: true }),
];

function pictureBar(picture, faultView) {
  const bar = document.getElementById("picture-bar");
  const choice = (words, id, options, act) => {
    const label = element(bar, "label", "", `${words} `), select = element(label, "select"); select.id = id;
    for (const [value, text] of options) element(select, "option", "", clip(text, 60)).value = value;
    select.addEventListener("change", () => act(select.value));
    return select;
  };
  const again = () => { picture.paint(); for (const table of openTables.values()) table.redraw(); tellShown(); };
  const states = [...new Set(allCases.map(stateOf))], arrangements = [...new Set(allCases.map(arrangementOf))];
  if (states.length > 1) choice("State", "state-pick", [[ANY, "worst of all"], ...states.map((s) => [s, s])], (value) => { picked.state = value; again(); });
  if (arrangements.length > 1) choice("Arrangement", "arrangement-pick", [[ANY, "worst of all"], ...arrangements.map((s) => [s, s])], (value) => { picked.arrangement = value; again(); });
  choice("Show", "show-pick", [["worst", "the worse of load and fault"], ["load", "load current"], ["fault", "sustained fault current"], ["several", "combined overload current"], ["heat", "temperature"]], (value) => { picked.show = value; again(); });
  const faults = element(bar, "button", "", "Fault view"); faults.type = "button"; faults.id = "fault-toggle"; faults.setAttribute("aria-pressed", "false"); faults.hidden = !faultView.faults.length;
  faults.addEventListener("click", () => { faultView.toggle(!faultView.on); faults.setAttribute("aria-pressed", faultView.on); document.getElementById("dock").classList.remove("empty"); document.getElementById("detail").hidden = faultView.on; });
  for (const [text, act, name] of [["+", () => picture.by(1.25), "+ closer"], ["−", () => picture.by(0.8), "− further away"], ["Readable", () => picture.fit(false, READABLE_SCALE), "As large as it takes to read it"], ["Show all", () => picture.fit(true), "The whole picture in the window"]]) {
    const button = element(bar, "button", "", text); button.type = "button"; button.setAttribute("aria-label", name); button.title = name; button.addEventListener("click", act);
  }
  for (const legend of [document.getElementById("legend"), document.getElementById("margin-legend")]) for (const [className, words] of [...USE_CLASSES, ["u-none", "not rated"]]) {
    const item = element(legend, "span");
    const svg = item.appendChild(document.createElementNS("http://www.w3.org/2000/svg", "svg"));
    d3.select(svg).attr("aria-hidden", "true").append("line").attr("x1", 2).attr("x2", 32).attr("y1", 5).attr("y2", 5).attr("stroke-width", 5).attr("class", className);
    item.append(words);
  }
  element(document.getElementById("legend"), "span", "", "✕ and !: how many errors or warnings are on it");
}

const SHOWN = {
  worst: () => `Each part by the worse of its load current (${pickedWords()}) and its sustained fault current (all load cases), over its allowed current.`,
  load: () => `Load currents of ${pickedWords()}.`,
  fault: () => "The most that one fault can hold, over all load cases.",
  heat: () => "How warm each conductor gets in its worst state, against the limit of its insulation; contacts by their rise.",
  several: () => "The most that several overloads together can hold, over all load cases.",
};
/** Which load case the numbers are of, for a screen reader too. */
function tellShown() {
  document.getElementById("shown").textContent = SHOWN[picked.show]();
  document.getElementById("picture-scale").textContent = picked.show === "heat" ? "Width: current. Number: temperature. Colour: temperature over the limit of the insulation, both in °C." : `Width: current. Colour and number: share of the allowed current; above it, how many times (×) it is.${picked.show === "load" || picked.show === "fault" || picked.show === "several" ? "" : " “fault” stands before what a fault can hold; all other currents are loads."}`;
}

/** Words on the part that is pointed at, and where to go from it. */
function tellPart(id, words) {
  const detail = document.getElementById("detail");
  detail.textContent = "";
  document.getElementById("dock").classList.remove("empty");
  element(detail, "span", "", clip(words || inWords(id), 1200));
  const cases = byCase(id);
  if (cases) element(detail, "div", "hint", cases);
  const lines = rowOf(id)?.explanation || [];
  if (lines.length) { const more = element(detail, "details", "by-hand"); element(more, "summary", "", "How its allowed and its sustained fault current come about"); element(more, "pre", "", lines.join("\n")); }
  const tools = element(detail, "div", "detail-tools");
  const go = (text, act) => { const button = element(tools, "button", "plain", text); button.type = "button"; button.addEventListener("click", act); };
  const name = clipMiddle(id, 40);
  if (rowsById.has(id)) go(`Row of ${name}`, () => jumpTo(id));
  if (charts && charts.has(id)) go(`Chart of ${name}`, () => charts.show(id));
  if (profiles.has?.(id)) go(`Voltage along the path to ${name}`, () => profiles.show(id));
  if (faultView.ofPart.has(id)) go(`Faults at ${name}`, () => { if (!faultView.on) document.getElementById("fault-toggle").click(); faultView.pickPart(id); });
}

function showFault(id) {
  if (!faultView.on) document.getElementById("fault-toggle").click();
  faultView.pick(id);
  document.getElementById("harness-section").scrollIntoView();
  document.getElementById("fault-place").focus({ preventScroll: true });
}

/** The advice on the harness as proposed: tables of its own, whose parts lead to their rows. */
function adviceTables() {
  const host = document.getElementById("advice-tables");
  if (!host) return;
  JSON.parse(document.getElementById("advice-data").textContent).forEach((table, at) => {
    const columns = table.columns.map((c, n) => ({ title: c.title, unit: c.kind, value: (row) => row[n], jump: c.kind === "id" }));
    new Table(host, { name: `advice-${at}`, title: table.name, note: table.note, rows: table.rows, columns: () => columns, open: at === 0 || table.rows.length <= ADVICE_OPEN });
  });
}

const WIRE_TO_ORDER = "order_wire", FUSES_OPEN = 8;
/** What each channel, output and fuse is set to, the range, why both ends, and what to do: one line each. */
function settingTables(add, column) {
  const columnsOf = (set, may) => [column("Part", "id", "id", { jump: true }), column(set, "set_to", "words-short"), column(may, "range", "words-short"), column("It stands", "stands", "stands"), column("Why not lower", "low_why", "words-short"), column("Why not higher", "high_why", "words-short"), column("Do this", "remedy", "words")];
  const note = "The range may be used whole: at its lower end the part still carries every load, at its upper end it still protects what only it protects. Each end is rounded to the safe side. Breaking capacity and voltage are not part of the range: findings of their own speak of them.";
  const still = extra.settings.some((line) => /not active/.test(line.set_to)) ? " “Not active” is not switched off: the channel passes current and never opens." : "";
  const isFuse = (line) => !["limiter", "output"].includes(line.kind);
  const channels = extra.settings.filter((line) => !isFuse(line)), fuses = extra.settings.filter(isFuse);
  const own = () => add("settings", channels.some((line) => line.kind === "limiter") ? "Settings of channels and outputs" : "Settings of outputs", channels, columnsOf("Set to", "May be set to"), { open: channels.some((line) => line.kind === "limiter") || !fuses.length, first: true, note: `${note}${still}${channels.some((line) => line.kind === "output") ? " What outputs give at most need not come at once: each at its own corner of the tolerances." : ""}` });
  const rated = () => add("fuse_settings", "Ratings of fuses and breakers", fuses, columnsOf("Rating", "Rating may be"), { open: fuses.length <= FUSES_OPEN || !channels.length, first: true, note });
  // Where nothing but fuses protects, they come first.
  for (const put of channels.some((line) => line.kind === "limiter") ? [own, rated] : [rated, own]) put();
}

/** Links to all parts of the page: what a review and a workshop look for first stands in a line of its own. */
function contents() {
  const nav = document.getElementById("contents"), wanted = element(nav, "ul", "wanted"), box = element(nav, "details", "rest-of");
  element(box, "summary", "", "All tables and charts");
  const rest = element(box, "ul");
  const to = (list, id, words) => { const a = element(element(list, "li"), "a", "", words); a.href = `#${id}`; a.addEventListener("click", () => { const box = document.getElementById(id); if (box.tagName === "DETAILS") box.open = true; }); };
  if (document.getElementById("advice")) to(wanted, "advice", "Advice");
  if (!document.getElementById("first").hidden) to(wanted, "first", "Worst parts");
  const first = [...(extra.settings.some((line) => line.kind === "limiter") ? ["settings", "fuse_settings"] : ["fuse_settings", "settings"]), WIRE_TO_ORDER, "open_points", "accepted", "changes"], named = { settings: "Settings", fuse_settings: "Fuse ratings" };
  for (const id of first) if (openTables.has(id)) to(wanted, id, named[id] ?? openTables.get(id).title);
  if (document.querySelector("section#sign")) to(wanted, "sign", "Signatures");
  to(wanted, "harness-section", "Picture of the harness"); to(wanted, "findings", "Findings");
  for (const [id, words] of [["margins", "Margins"], ["profiles", "Voltage along a path"]]) if (!document.getElementById(id).hidden) to(rest, id, words);
  for (const table of openTables.values()) if (!first.includes(table.name) && table.name !== "findings") to(rest, table.name, table.title);
  if (!document.getElementById("charts").hidden) to(rest, "charts", "Charts");
}

header();
worstFive();
margins();
const picture = new HarnessPicture(document.getElementById("harness"), {
  tell: (words, id) => tellPart(id, words),
  choose: (ids, worst) => { if (faultView.on) faultView.pickPart([...ids].sort((x, y) => (rowOf(y)?.sustained_fault_a || 0) / (rowOf(y)?.allowed_a || Infinity) - (rowOf(x)?.sustained_fault_a || 0) / (rowOf(x)?.allowed_a || Infinity))[0] ?? worst); else jumpTo(worst); },
});
const faultView = new FaultView(document.getElementById("fault-pick"), document.getElementById("fault-words"), picture);
const profiles = new Profiles();
pictureBar(picture, faultView);
tellShown();
tables(picture);
adviceTables();
let charts = null;
if (chartedDevices().length) charts = new Charts(document.getElementById("chart-list"));
else document.getElementById("charts").hidden = true;
contents();
window.addEventListener("resize", () => { picture.fit(); for (const table of openTables.values()) table.measure(); });
window.addEventListener("beforeprint", () => {
  for (const table of openTables.values()) table.forPrint();
  if (charts) charts.draw(Infinity);
  picture.print(document.getElementById("printed"));
});
window.addEventListener("afterprint", () => { for (const table of openTables.values()) table.redraw(); });
