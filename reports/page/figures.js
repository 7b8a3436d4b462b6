"use strict";
/* Numbers and words of the page, and which case they are for. Nothing here touches the document. */
const results = JSON.parse(document.getElementById("results").textContent);
const decimalSign = (results.settings && results.settings.decimal_sign) || ".";

const known = (value) => value !== null && value !== undefined && Number.isFinite(value);
const NOISE = 1e-9; // the solve itself is no finer

/** To so many decimals; a value exactly half-way goes to the even digit, as in the other reports. */
function rounded(value, decimals) {
  const text = value.toFixed(decimals), scaled = Math.abs(value) * 10 ** decimals;
  if (Math.abs((scaled % 1) - 0.5) > 1e-6 || !/[13579]$/.test(text)) return text;
  const exact = value.toFixed(decimals + 60), cut = exact.length - 60; // all digits that a value of this size has
  return /^50*$/.test(exact.slice(cut)) ? exact.slice(0, cut).replace(/\.$/, "") : text;
}
/** A value to three significant figures; a dash for what is not known. As the workbook and the terminal write it. */
function fig(value) {
  if (!known(value)) return "–";
  const size = Math.abs(value);
  if (size < NOISE) return "0";
  let text;
  if (size < 1e-4) text = value.toExponential(2).replace(/e([+-])(\d)$/, "e$10$2");
  else text = rounded(value, Math.min(6, Math.max(0, 2 - Math.floor(Math.log10(Number(size.toPrecision(3)))))));
  return text.replace(/^-/, "−").replace(".", decimalSign);
}
/** An end of a range to three figures, on its safe side: the least one up, the greatest one down. */
function end(value, up) {
  if (!known(value) || value <= 0) return fig(value);
  const step = 10 ** (Math.floor(Math.log10(value)) - 2);
  return fig((up ? Math.ceil((value / step) * (1 - NOISE)) : Math.floor((value / step) * (1 + NOISE))) * step);
}
const PREFIXES = [[1e6, "M"], [1e3, "k"], [1, ""], [1e-3, "m"], [1e-6, "µ"]];
/** A value with unit and prefix: 7.90 mΩ. */
function quantity(value, unit) {
  if (!known(value)) return "–";
  const size = Math.abs(value);
  const [divisor, prefix] = size < NOISE || (size >= 0.1 && size < 1e4) ? [1, ""] : PREFIXES.find(([d]) => size >= d) || PREFIXES[4];
  return `${fig(value / divisor)} ${prefix}${unit}`;
}
function percent(share) { return known(share) ? `${fig(100 * share)} %` : "–"; }
/** A share of the allowed current: up to it in per cent, above it how many times it is. */
function ofAllowed(share) { return isOver(share) ? `${fig(share)} ×` : percent(share); }
function plural(n, word) { return `${n} ${word}${n === 1 ? "" : "s"}`; }
/** A long text cut at its end, or in its middle, where names differ at both ends. */
function clip(text, most) { return text.length > most ? `${text.slice(0, most - 1)}…` : text; }
function clipMiddle(text, most) { return text.length > most ? `${text.slice(0, Math.ceil(most / 2) - 1)}…${text.slice(text.length - Math.floor(most / 2))}` : text; }

/** Classes of utilisation: blue to orange, told apart by words and by numbers as well. */
const USE_CLASSES = [
  ["u-low", "up to 60 %", 0.6], ["u-mid", "up to 80 %", 0.8], ["u-near", "up to 100 %", 1.0000000001], ["u-band", "above 100 %, within the overload band", 0], ["u-over", "above 100 %", Infinity],
];
const isOver = (share) => known(share) && share > 1.0000000001;
/** Whether a share above 100 % is one that a fault may hold within the overload band: the part counts as protected. */
const isTolerated = (share, row) => isOver(share) && row?.protected === true && share === held(row, "sustained_fault_a").share;
function useClass(share, row) { return !known(share) ? "u-none" : isTolerated(share, row) ? "u-band" : USE_CLASSES.find(([, , most]) => share <= most)[0]; }

const LISTS = ["conductors", "contacts", "devices", "outputs", "loads", "splices", "switches", "supplies"];
const rowsById = new Map();
for (const list of LISTS) for (const row of results[list] || []) if (!rowsById.has(row.id)) rowsById.set(row.id, { list, row });
const rowOf = (id) => rowsById.get(id)?.row;

/** Open findings per part: {error, warning, note}. */
const findingsOn = new Map();
for (const finding of results.findings || []) {
  if (finding.accepted) continue;
  if (!findingsOn.has(finding.subject)) findingsOn.set(finding.subject, { error: 0, warning: 0, note: 0 });
  findingsOn.get(finding.subject)[finding.severity] += 1;
}
/** Marks of the gravest findings of some parts: [class, sign, words], or null. */
function gravest(ids) {
  const sum = { error: 0, warning: 0 };
  for (const id of ids) { const on = findingsOn.get(id); if (on) { sum.error += on.error; sum.warning += on.warning; } }
  if (sum.error) return ["grade-error", `✕${sum.error}`, plural(sum.error, "error")];
  return sum.warning ? ["grade-warning", `!${sum.warning}`, plural(sum.warning, "warning")] : null;
}

/** What is picked: states and arrangements narrow the cases; `show` says which current is drawn. */
const AS_DRAWN = "as drawn", NOMINAL = "nominal", ANY = "";
const stateOf = (item) => item.state ?? NOMINAL, arrangementOf = (item) => item.arrangement ?? AS_DRAWN;
const picked = { state: ANY, arrangement: ANY, show: "worst" };
const allCases = results.cases || [];
/** Ids of the cases picked; empty for the worst of all. */
function pickedCases() {
  if (picked.state === ANY && picked.arrangement === ANY) return [];
  return allCases.filter((item) => (picked.state === ANY || stateOf(item) === picked.state) && (picked.arrangement === ANY || arrangementOf(item) === picked.arrangement)).map((item) => item.id);
}
function pickedWords() {
  if (picked.state === ANY && picked.arrangement === ANY) return "the worst of all cases";
  return `${picked.state === ANY ? "the worst state" : `state “${picked.state}”`}, ${picked.arrangement === ANY ? "the worst arrangement" : picked.arrangement === AS_DRAWN ? AS_DRAWN : `arrangement “${picked.arrangement}”`}`;
}
/** Cases in which some load draws for a short time only: heat counts by the mean square, not by the peak. */
const shortCases = new Set((results.loads || []).flatMap((load) => Object.entries(load.duration_s || {}).filter(([, s]) => known(s)).map(([id]) => id)));

/** The case of the greatest current among those picked, and that current in A: [id, current]; nulls where unknown. */
function worstPicked(row) {
  const cases = pickedCases();
  if (!row) return [null, null];
  if (!cases.length && picked.state === ANY && picked.arrangement === ANY) return [row.case ?? null, row.current_a ?? null];
  let worst = [null, null];
  for (const id of cases) { const current = row.currents_a?.[id]; if (known(current) && (worst[1] === null || current > worst[1])) worst = [id, current]; }
  return worst;
}
function settingIn(row, caseId) { return row.settings_a && caseId in row.settings_a ? row.settings_a[caseId] : row.setting_a; }
/** Whether a device does nothing in the cases picked, as a limiter that an arrangement takes out. */
function notActive(row) {
  const cases = pickedCases();
  return row.setting_a !== undefined && known(row.setting_a) && cases.length > 0 && cases.every((id) => !known(settingIn(row, id)));
}
/** Share of what is allowed in the cases picked. */
function usePicked(row) {
  if (!row) return null;
  if (picked.state === ANY && picked.arrangement === ANY) return row.utilisation ?? null;
  let worst = null;
  for (const id of pickedCases()) {
    const current = row.currents_a?.[id];
    let limit = row.allowed_a ?? row.limit_a;
    if (row.setting_a !== undefined) { const set = settingIn(row, id); limit = known(set) && known(row.non_tripping_a) && row.setting_a ? row.non_tripping_a * set / row.setting_a : null; }
    if (known(current) && limit && (worst === null || current / limit > worst)) worst = current / limit;
  }
  return worst;
}
/** A current that faults can hold on a part, and its share of the allowed current. */
function held(row, key) {
  const amperes = row[key] ?? null;
  return { amperes, share: known(amperes) && row.allowed_a ? amperes / row.allowed_a : null, peak: false };
}
/** How warm a part gets: a conductor against the limit of its insulation, a contact by its rise. */
function heat(row) {
  const amperes = row.current_a ?? null, share = known(row.temperature_c) && row.temperature_limit_c > 0 ? row.temperature_c / row.temperature_limit_c : null;
  const words = known(row.temperature_c) ? `${fig(row.temperature_c)} °C${known(row.temperature_limit_c) ? ` of ${fig(row.temperature_limit_c)}` : ""}` : known(row.temperature_rise_k) ? `+${fig(row.temperature_rise_k)} K` : "–";
  return { amperes, share, peak: false, words };
}
/** What the picture draws of a part: current in A, share of the allowed current, and whether it is a short peak. */
function drawn(row) {
  if (!row) return { amperes: null, share: null, peak: false };
  if (picked.show === "heat") return heat(row);
  if (picked.show === "fault") return held(row, "sustained_fault_a");
  if (picked.show === "several") return held(row, "combined_overload_a");
  const [caseId, amperes] = worstPicked(row);
  // Of all cases the share is that of what flows continuously, so its current stands beside it, not a short peak.
  const lasting = !pickedCases().length && known(row.utilisation) && known(row.continuous_a);
  const load = { amperes: lasting ? row.continuous_a : amperes, share: usePicked(row), peak: pickedCases().length > 0 && shortCases.has(caseId) };
  if (picked.show === "load") return load;
  // A part whose load is harmless can still be the one that a fault burns: the picture shows the worse of both.
  const fault = held(row, "sustained_fault_a");
  return known(fault.share) && !(known(load.share) && load.share >= fault.share) ? { ...fault, byFault: true } : load;
}

/** Where an allowed current comes from: its base, the factors that change it, what caps it, the basis. */
function ratingWords(rating) {
  if (!rating || !known(rating.base_a)) return rating?.missing || null;
  const why = (f) => (known(f.input_value) && f.input_unit !== "1" ? `${fig(f.input_value)} ${f.input_unit}` : f.reason);
  const factors = rating.factors.filter((f) => f.factor !== 1).map((f) => ` × ${fig(f.factor)} ${f.kind} (${why(f)})`);
  const caps = rating.caps.filter((c) => c.limit_a <= rating.allowed_a * (1 + 1e-9)).map((c) => `, at most ${fig(c.limit_a)} A: ${c.reason}`);
  return `${fig(rating.base_a)} A${factors.join("")}${caps.join("")}; ${rating.basis}${rating.estimate ? ", estimate" : ""}${rating.check_edition ? ", check your edition" : ""}`;
}

/** What a part is, in one phrase. */
function partWords(id) {
  const found = rowsById.get(id);
  if (!found) return id;
  const { list, row } = found;
  const kind = { conductors: "conductor", contacts: "contact", devices: row.kind, outputs: "output", loads: "load", splices: "splice", switches: row.kind, supplies: "supply" }[list];
  const more = [row.gauge, known(row.length_m) ? quantity(row.length_m, "m") : null, row.function, row.demand, list === "outputs" && known(row.voltage_v) ? quantity(row.voltage_v, "V") : null].filter(Boolean);
  return `${row.role ? `${row.role} ` : ""}${kind}${more.length ? `, ${more.join(", ")}` : ""}`;
}
/** A place as a person finds it: connector.pin, splice, how many wires meet, or where along a conductor. */
const placeName = (at) => extra.places[at] ?? at;

/** What a finding is about, as people call it: a joint by its terminal or name. */
const subjectName = (id) => extra.subjects[id] ?? (id || "").replace(/^@/, "terminal ");

/** What it means where a setting stands in its range. */
const STANDS_WORDS = { inside: "the setting is inside", "too low": "the setting is TOO LOW, it may open on its loads", "too high": "the setting is TOO HIGH to protect what sets the upper end", "no range": "NO setting does both", "not set": "it is not set, or not active", "not determined": "not determined" };
/** A few sentences on a part, for the cases picked. */
function inWords(id) {
  const found = rowsById.get(id);
  if (!found) return id;
  const { list, row } = found;
  const [caseId, current] = worstPicked(row), share = usePicked(row);
  const ends = extra.ends[id];
  const parts = [`${id}: ${partWords(id)}.`, ends ? `From ${ends[0]}, ends at ${ends[1]}.` : "", known(current) ? `Carries ${quantity(current, "A")}${caseId ? ` (case ${caseId})` : ""}.` : "Its current in this case is not known."];
  const limit = row.allowed_a ?? row.limit_a;
  if (limit !== undefined) parts.push(known(limit) ? `Allowed ${quantity(limit, "A")}${row.rating ? ` (${ratingWords(row.rating)})` : ""}: ${ofAllowed(share)}${isOver(share) ? " what is allowed" : " used"}.` : `Not rated${row.rating?.missing ? `: ${row.rating.missing}` : ""}.`);
  if (row.setting_a !== undefined) {
    parts.push(notActive(row) ? "Not active in this arrangement." : `Set to ${quantity(row.setting_a, "A")}; non-tripping current ${quantity(row.non_tripping_a, "A")}, tripping current ${quantity(row.tripping_a, "A")}.`);
    if (known(row.setting_low_a) || known(row.setting_high_a)) parts.push(`Setting range ${end(row.setting_low_a, true)} A${row.setting_low_because ? ` (${row.setting_low_because})` : ""} to ${end(row.setting_high_a, false)} A${row.setting_high_because ? ` (${row.setting_high_because})` : ""}: ${STANDS_WORDS[extra.stands[row.id]] ?? extra.stands[row.id]}.`);
    if (row.setting_range_note) parts.push(`Setting range: ${row.setting_range_note}.`);
  }
  if (known(row.sustained_fault_a)) parts.push(`One fault can hold ${quantity(row.sustained_fault_a, "A")} on it: ${row.protected === true ? `protected${row.protected_by?.length ? ` by ${row.protected_by.join(", ")}` : ""}` : row.protected === false ? "NOT protected" : "whether it is protected is not determined"}.`);
  if (list === "loads" && known(row.voltage_v)) parts.push(`Gets ${quantity(row.voltage_v, "V")} at least${known(row.minimum_v) ? `, needs ${quantity(row.minimum_v, "V")}` : ""}.`);
  if (list === "loads" && row.fed_by && !row.fed_by.length) parts.push("No output feeds it.");
  const rules = [...new Set((results.findings || []).filter((f) => f.subject === id && !f.accepted).map((f) => f.rule))];
  if (rules.length) parts.push(`Findings: ${rules.join(", ")}.`);
  return parts.filter(Boolean).join(" ");
}
/** The currents of a part in every case, in words; empty where there is one case only. */
function byCase(id) {
  const row = rowOf(id), list = Object.entries(row?.currents_a || {});
  if (list.length < 2) return "";
  return `By case: ${list.slice(0, 12).map(([name, current]) => `${clip(name, 40)} ${quantity(current, "A")}`).join(" · ")}${list.length > 12 ? " · …" : ""}`;
}
