"use strict";
/* The fault view: pick a part, pick a fault; what flows, where it burns, what holds it, what trips. */

class FaultView {
  constructor(host, words, picture) {
    this.host = host; this.words = words; this.picture = picture; this.on = false;
    this.faults = results.faults || [];
    this.byId = new Map(this.faults.map((f) => [f.id, f]));
    this.short_circuits = new Map((results.short_circuits || []).map((s) => [s.conductor, s]));
    this.read();
    this.controls();
  }
  ratio(f) { return f.worst_allowed_a && known(f.worst_current_a) ? f.worst_current_a / f.worst_allowed_a : 0; }

  /** Which faults belong to which part: the one that puts the most on it, those at it, those it suffers most from. */
  read() {
    this.ofPart = new Map();
    const add = (id, fault) => {
      if (!fault || !rowsById.has(id)) return;
      if (!this.ofPart.has(id)) this.ofPart.set(id, new Set());
      this.ofPart.get(id).add(fault);
    };
    for (const list of ["conductors", "contacts", "splices", "switches"]) for (const row of results[list] || []) add(row.id, this.byId.get(row.sustained_fault));
    const sorted = [...this.faults].sort((x, y) => this.ratio(y) - this.ratio(x));
    for (const f of sorted) for (const id of [...placeParts(f.at), ...placeParts(f.to)].map((p) => p.id)) add(id, f);
    for (const f of sorted) { add(f.worst, f); add(f.held_by, f); }
  }

  controls() {
    const field = (words, id) => {
      const label = element(this.host, "label", "", `${words} `);
      const select = element(label, "select"); select.id = id;
      return select;
    };
    this.partSelect = field("Part", "fault-part");
    element(this.partSelect, "option", "", "pick a part, here or in the picture").value = "";
    for (const list of LISTS) {
      const rows = (results[list] || []).filter((row) => this.ofPart.has(row.id));
      if (!rows.length) continue;
      const group = element(this.partSelect, "optgroup"); group.label = { conductors: "Conductors", contacts: "Contacts", devices: "Devices that hold a fault", outputs: "Outputs", loads: "Loads that fail", splices: "Splices", switches: "Switches and diodes", supplies: "Supplies" }[list];
      for (const row of rows) element(group, "option", "", clip(row.id, 60)).value = row.id;
    }
    this.faultSelect = field("Fault", "fault-place"); this.faultSelect.disabled = true;
    this.partSelect.addEventListener("change", () => this.pickPart(this.partSelect.value));
    this.faultSelect.addEventListener("change", () => this.show(this.byId.get(this.faultSelect.value)));
  }

  toggle(on) {
    this.on = on; this.host.hidden = !on; this.words.hidden = !on;
    if (on) this.pickPart(this.partSelect.value || this.first()); else this.show(null);
  }
  /** To start with, the part on which a fault is worst against what it is allowed. */
  first() {
    let best = "", most = -1;
    for (const list of ["conductors", "contacts"]) for (const row of results[list] || []) {
      const share = this.ofPart.has(row.id) && row.allowed_a && known(row.sustained_fault_a) ? row.sustained_fault_a / row.allowed_a : -1;
      if (share > most) { most = share; best = row.id; }
    }
    return best;
  }
  pickPart(id) {
    const list = [...(this.ofPart.get(id) || [])];
    this.part = id;
    this.partSelect.value = list.length ? id : "";
    this.faultSelect.textContent = ""; this.faultSelect.disabled = !list.length;
    const mine = rowOf(id)?.sustained_fault;
    for (const f of list) element(this.faultSelect, "option", "", clip(`${f.id === mine ? "worst for it: " : ""}${clip(placeName(f.at), 40)} to ${clip(placeName(f.to), 40)}, ${quantity(f.fault_current_a, "A")}${f.case ? ` (${f.case})` : ""}`, 140)).value = f.id;
    if (list.length) this.show(list[0]);
    else { this.show(null); if (id) this.words.textContent = `No fault at ${clip(id, 80)} is held continuously, or none could be worked out.`; }
  }

  /** One fault by its id, under the part that it is worst for. */
  pick(id) {
    const f = this.byId.get(id);
    if (!f) return;
    const part = [f.worst, ...placeParts(f.at).map((p) => p.id), f.held_by].find((other) => this.ofPart.get(other)?.has(f));
    if (part !== undefined) { this.pickPart(part); this.faultSelect.value = id; }
    this.show(f);
  }
  show(f) {
    const { picture, words } = this;
    words.textContent = "";
    picture.marked = new Set();
    if (!f) { picture.fault = null; picture.paint(); if (this.on) words.textContent = "Pick a part, in the list or in the picture, to see what a fault there could do."; return; }
    const at = placeParts(f.at), to = placeParts(f.to);
    const atLoad = results.loads?.some((l) => l.id === f.at);
    picture.fault = { at, to: atLoad ? [] : to, held: f.held_by, worst: f.worst, way: this.way(f) };
    picture.paint();
    const facts = element(words, "dl");
    const fact = (name, text, className) => { if (!text) return; const div = element(facts, "div", className); element(div, "dt", "", name); element(div, "dd", "", text); };
    fact("Fault", `${clip(placeName(f.at), 80)} to ${clip(placeName(f.to), 80)}${f.case ? `, load case ${clip(f.case, 60)}` : ""}`);
    fact("What flows", `${quantity(f.fault_current_a, "A")} through ${quantity(f.fault_resistance_ohm, "Ω")}`);
    fact("What burns in it", quantity(f.fault_power_w, "W"));
    fact("What trips", f.held_by ? `Nothing. ${clip(f.held_by, 60)} stays just below tripping; it would open if more flowed.` : "Nothing, and no device stands in its path.");
    const ratio = this.ratio(f);
    fact("Worst part", f.worst ? `${clip(f.worst, 60)} carries ${quantity(f.worst_current_a, "A")}, ${known(f.worst_allowed_a) ? `${fig(ratio)} times its allowed ${quantity(f.worst_allowed_a, "A")}` : "and is not rated"}` : "", ratio > 1 ? "grave" : "");
    const row = rowOf(this.part);
    if (row && this.part !== f.worst && f.id === row.sustained_fault) fact("On the part picked", `${quantity(row.sustained_fault_a, "A")} on ${clip(this.part, 60)}, ${known(row.allowed_a) ? `allowed ${quantity(row.allowed_a, "A")}` : "which is not rated"}`, row.allowed_a && row.sustained_fault_a > row.allowed_a ? "grave" : "");
    fact("Overloads and nothing opens", f.resistance_band_ohm ? `for any fault from ${quantity(f.resistance_band_ohm[0], "Ω")} to ${quantity(f.resistance_band_ohm[1], "Ω")}` : ratio > 1 ? "" : "at no fault resistance");
    const short = this.short_circuits.get(this.part);
    if (short) fact("A short circuit at its far end", `${quantity(short.least_a, "A")} to ${quantity(short.greatest_a, "A")}; ${short.cleared_by ? `${clip(short.cleared_by, 60)} clears it${known(short.slowest_s) ? ` within ${quantity(short.slowest_s, "s")}` : ", how fast is not known"}` : (short.findings || []).includes("fault-never-cleared") ? "nothing clears it" : `nothing clears it at its least, which all of its loop may carry`}${short.outputs_off?.length ? `, while ${clip(short.outputs_off.join(" and "), 60)} ${short.outputs_off.length > 1 ? "are" : "is"} off` : ""}`, short.cleared_by || !(short.findings || []).includes("fault-never-cleared") ? "" : "grave");
    if (f.description) element(words, "p", "", clip(f.description, 600));
  }

  /** Parts that the fault current flows through: in the feed to the fault and in the return from it. */
  way(f) {
    const way = new Set([f.worst, f.held_by].filter(Boolean));
    const { harness } = this.picture;
    const feeds = new Set(rowOf(f.held_by)?.upstream || []);
    const outputs = harness.outputs.filter((o) => o.id === f.held_by || feeds.has(o.id));
    const starts = outputs.length ? outputs : harness.outputs.filter((o) => harness.laneOf(o.plus) === "out");
    for (const o of starts) {
      const out = waysBetween(harness, o.plus, f.at), back = waysBetween(harness, o.minus, results.loads?.some((l) => l.id === f.at) ? harness.loads.find((l) => l.id === f.at).minus : f.to);
      if (!out.size && !back.size) continue;
      for (const id of [o.id, ...out, ...back]) way.add(id);
      if (out.has(f.worst) || back.has(f.worst)) break;
    }
    for (const place of [f.at, f.to]) for (const { id } of placeParts(place)) way.add(id);
    return way;
  }
}
