"use strict";
/* Numbers and words of the page. Nothing here touches the document. */
const results = JSON.parse(document.getElementById("results").textContent);
const decimalSign = (results.settings && results.settings.decimal_sign) || ".";

/** A value to three significant figures; a dash for what is not known. */
function fig(value) {
  if (value === null || value === undefined || !Number.isFinite(value)) return "–";
  if (value === 0) return "0";
  const size = Math.abs(value);
  let text;
  if (size < 1e-4 || size >= 1e7) text = value.toExponential(2);
  else text = value.toFixed(Math.min(6, Math.max(0, 2 - Math.floor(Math.log10(Number(size.toPrecision(3)))))));
  return text.replace("-", "−").replace(".", decimalSign);
}
const PREFIXES = [[1e3, "k"], [1, ""], [1e-3, "m"], [1e-6, "µ"]];
/** A value with unit and prefix: 7.90 mΩ. */
function quantity(value, unit) {
  if (value === null || value === undefined || !Number.isFinite(value)) return "–";
  const size = Math.abs(value);
  const [divisor, prefix] = size === 0 || (size >= 0.1 && size < 1e4) ? [1, ""] : PREFIXES.find(([d]) => size >= d) || PREFIXES[3];
  return `${fig(value / divisor)} ${prefix}${unit}`;
}
function percent(share) { return share === null || share === undefined ? "–" : `${fig(100 * share)} %`; }

/** Classes of utilisation: blue to orange, told apart by words and by line as well. */
const USE_CLASSES = [
  ["u-low", "up to 60 %", 0.6], ["u-mid", "up to 80 %", 0.8], ["u-near", "up to 100 %", 1.0000000001], ["u-over", "over its limit", Infinity],
];
function useClass(share) {
  if (share === null || share === undefined) return "u-none";
  return USE_CLASSES.find(([, , most]) => share <= most)[0];
}

const rowsById = new Map();
for (const list of ["outputs", "supplies", "devices", "conductors", "contacts", "splices", "switches", "loads"]) {
  for (const row of results[list] || []) if (!rowsById.has(row.id)) rowsById.set(row.id, { list, row });
}
/** Current of a part in a case (worst case for an empty id), in A. */
function currentIn(row, caseId) {
  if (!caseId || !row.currents_a || !(caseId in row.currents_a)) return caseId && row.currents_a && Object.keys(row.currents_a).length ? null : row.current_a;
  return row.currents_a[caseId];
}
/** Utilisation of a part in a case. */
function useIn(row, caseId) {
  if (!caseId) return row.utilisation;
  const limit = row.allowed_a ?? row.limit_a ?? row.setting_a;
  const current = currentIn(row, caseId);
  return limit && current !== null && current !== undefined ? current / limit : null;
}
/** One sentence on a part. */
function inWords(id, caseId) {
  const found = rowsById.get(id);
  if (!found) return id;
  const { list, row } = found;
  const parts = [`${id}:`];
  const kind = { conductors: "conductor", contacts: "contact", devices: row.kind, outputs: "output", loads: "load", splices: "splice", switches: row.kind, supplies: "supply" }[list];
  parts.push(`${row.role ? row.role + " " : ""}${kind}${row.gauge ? ", " + row.gauge : ""}${row.length_m !== undefined && row.length_m !== null ? ", " + quantity(row.length_m, "m") : ""}${row.demand ? ", " + row.demand : ""}.`);
  parts.push(`Carries ${quantity(currentIn(row, caseId), "A")}${caseId ? ` in case ${caseId}` : row.case ? ` at worst (case ${row.case})` : ""}.`);
  const limit = row.allowed_a ?? row.limit_a;
  if (limit !== undefined) parts.push(limit === null ? "Not rated." : `Allowed ${quantity(limit, "A")}: ${percent(useIn(row, caseId))} used.`);
  if (row.setting_a !== undefined) parts.push(`Set to ${quantity(row.setting_a, "A")}; window ${quantity(row.window_low_a, "A")} to ${quantity(row.window_high_a, "A")}.`);
  if (row.let_through_a !== undefined && row.let_through_a !== null) {
    const verdict = row.protected === true ? "protected" : row.protected === false ? "NOT protected" : "protection can't be said";
    parts.push(`A fault could hold ${quantity(row.let_through_a, "A")} on it: ${verdict}.`);
  }
  if (row.voltage_v !== undefined && list === "loads") parts.push(`Gets ${quantity(row.voltage_v, "V")} at least.`);
  if (row.findings && row.findings.length) parts.push(`Findings: ${row.findings.join(", ")}.`);
  return parts.join(" ");
}
