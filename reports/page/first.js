"use strict";
/* What a review looks at first: the worst parts with reason and remedy, margins as bars, the voltage along a path. */

const extra = JSON.parse(document.getElementById("extra").textContent);
const MARGINS_SHOWN = 25; // rows, each of the parts that are alike
const MARGIN_NAMES = 6; // of such a row
const LONGEST_BARS = [2, 5, 10, 20, 50, 100, 200, 500, 1000, 1e4, 1e6];

/** Parts with their load and sustained fault current over what they may carry, worst first; those that are over it and protected all the same come behind those that are not. */
function byWorse() {
  const rows = ["conductors", "contacts", "splices", "switches"].flatMap((list) => results[list] || []);
  return rows.map((row) => ({ row, load: row.utilisation ?? null, fault: held(row, "sustained_fault_a").share }))
    .filter(({ load, fault }) => known(load) || known(fault))
    .sort((x, y) => fails(y) - fails(x) || Math.max(y.load ?? 0, y.fault ?? 0) - Math.max(x.load ?? 0, x.fault ?? 0));
}

const fails = ({ row, load }) => Number(row.protected === false || isOver(load));

/** Why a part on which nothing was found stands where it does: what the worse of its two currents comes from. */
function holds(row) {
  const by = (row.protected_by || []).join(", "), fault = row.sustained_fault_a;
  if (!known(fault) || row.protected !== true) return "Nothing was found on it.";
  return `Nothing is over: a fault can hold at most ${quantity(fault, "A")} on it${by ? `, since ${clip(by, 60)} lets no more pass without opening` : ""}; it is allowed ${quantity(row.allowed_a, "A")}.`;
}

const HEADS = [["Part", ""], ["Load, A", "number"], ["Fault can hold, A", "number"], ["Allowed, A", "number"], ["Times allowed", "number"], ["Why", ""], ["What to change", ""]];
/** Parts that fail by something else than a current, where none of the five worst by current fails: a load without feed. */
function failingOnly() {
  const errors = [...new Set(extra.open_points.filter((p) => p.kind === "error").map((p) => p.part))];
  if (byWorse().slice(0, 5).some(({ row }) => errors.includes(row.id))) return [];
  const rated = new Map(byWorse().map((found) => [found.row.id, found]));
  return errors.slice(0, 5).map((id) => rated.get(id) ?? { row: rowOf(id) ?? { id }, load: null, fault: null, without: true });
}
function worstFive() {
  const host = document.getElementById("worst"), failing = failingOnly(), worst = [...failing, ...byWorse().slice(0, 5)];
  if (!worst.length) { document.getElementById("first").hidden = true; return; }
  const table = element(element(host, "div", "table-wrap first"), "table");
  element(table, "caption", "unseen", "The five parts that are worst off, by the worse of load and sustained fault current over the allowed current.");
  const head = element(element(table, "thead"), "tr"), body = element(table, "tbody");
  for (const [title, kind] of HEADS) element(head, "th", kind, title).scope = "col";
  for (const { row, load, fault, without } of worst) {
    const tr = element(body, "tr"), name = element(tr, "th", "id"); name.scope = "row";
    const words = clipMiddle(subjectName(row.id), 40);
    if (rowsById.has(row.id)) { const button = element(name, "button", "plain", words); button.type = "button"; button.addEventListener("click", () => jumpTo(row.id)); element(name, "div", "hint", partWords(row.id)); } else name.append(words);
    for (const [value, share] of (without ? [["–"], ["–"], ["–"]] : [[fig(row.continuous_a ?? row.current_a), load], [fig(row.sustained_fault_a), fault], [fig(row.allowed_a)]])) element(tr, "td", `number ${isTolerated(share, row) ? "grade-warning" : isOver(share) ? "grade-error" : ""}`, value);
    const worse = Math.max(load ?? 0, fault ?? 0);
    const times = element(tr, "td", `number ${isTolerated(worse, row) ? "grade-warning" : isOver(worse) ? "grade-error" : ""}`, without ? "–" : ofAllowed(worse));
    const guarded = without ? "" : row.protected === true ? (isTolerated(fault, row) ? "within the overload band" : "protected") : row.protected === false ? "not protected" : "protection not determined";
    if (guarded) element(times, "div", "guarded", guarded);
    // Both have the same numbers, where there are several: each remedy answers what stands under its number.
    const steps = extra.steps[row.id] ?? [{ why: holds(row), do: "Nothing." }];
    for (const what of ["why", "do"]) {
      const cell = element(tr, "td", "words");
      steps.forEach((step, n) => element(cell, "div", n ? "also" : "", `${steps.length > 1 ? `${n + 1}. ` : ""}${clip(step[what], 600)}`));
    }
    [...tr.cells].forEach((cell, n) => { cell.dataset.label = HEADS[n][0]; });
  }
}

/** Where a share ends on a bar, from 0 to 1: linear up to 100 % at its middle, then by the logarithm up to `end` times. */
function alongBar(share, end) { return share <= 1 ? share / 2 : 0.5 + 0.5 * Math.min(1, Math.log(share) / Math.log(end)); }

/** Both currents of the worst parts as bars against the line of 100 %; parts of the same two shares have one row. */
function margins() {
  const host = document.getElementById("margin-bars"), rows = new Map();
  for (const { row, load, fault } of byWorse()) {
    const key = `${ofAllowed(load)} ${ofAllowed(fault)} ${isTolerated(fault, row)}`;
    if (!rows.has(key)) { if (rows.size === MARGINS_SHOWN) break; rows.set(key, { parts: [], load, fault, row }); }
    rows.get(key).parts.push(row.id);
  }
  if (!rows.size) { document.getElementById("margins").hidden = true; return; }
  const longest = Math.max(...[...rows.values()].flatMap(({ load, fault }) => [load ?? 0, fault ?? 0]));
  const end = LONGEST_BARS.find((most) => most >= longest) ?? longest;
  const axis = element(element(host, "div", "margin-row margin-axis"), "span", "", "Part").parentNode, scale = element(axis, "div", "margin-line");
  for (const [share, words] of [[0, "0"], [0.5, "50 %"], [1, "100 %"], ...LONGEST_BARS.filter((most) => most <= end && (end <= 20 || most !== 2)).slice(-4).map((most) => [most, `${most} ×`])]) element(scale, "span", "margin-tick", words).style.left = `${100 * alongBar(share, end)}%`;
  const bar = (track, share, kind, row) => {
    const line = element(track, "div", "margin-line");
    const fill = element(line, "div", `margin-bar ${kind} ${useClass(share, row)}`);
    fill.style.width = `${100 * alongBar(share ?? 0, end)}%`;
    element(line, "span", "margin-number", known(share) ? ofAllowed(share) : "not determined");
  };
  for (const { parts, load, fault, row } of rows.values()) {
    const line = element(host, "div", "margin-row"), names = element(line, "div", "margin-names");
    parts.slice(0, MARGIN_NAMES).forEach((id, n) => { if (n) names.append(", "); const button = element(names, "button", "plain", clipMiddle(id, 26)); button.type = "button"; button.addEventListener("click", () => jumpTo(id)); });
    if (parts.length > MARGIN_NAMES) names.append(` and ${parts.length - MARGIN_NAMES} more`);
    const track = element(line, "div", "margin-track");
    track.setAttribute("role", "img"); track.setAttribute("aria-label", `${clip(parts.join(", "), 200)}: load ${ofAllowed(load)}, sustained fault current ${ofAllowed(fault)} of the allowed current`);
    bar(track, load, "load", row); bar(track, fault, "fault", row);
  }
}
/** The voltage from the output to a load and back, part by part. */
class Profiles {
  constructor() {
    this.loads = (results.loads || []).filter((l) => l.profile?.length > 2);
    this.section = document.getElementById("profiles");
    if (!this.loads.length) { this.section.hidden = true; return; }
    const margin = (l) => (known(l.voltage_v) && known(l.minimum_v) ? l.voltage_v / l.minimum_v : Infinity);
    this.loads.sort((x, y) => margin(x) - margin(y));
    const label = element(document.getElementById("profile-bar"), "label", "", "Load "); this.select = element(label, "select"); this.select.id = "profile-pick";
    for (const l of this.loads) element(this.select, "option", "", clip(`${l.id}${l.function ? `, ${l.function}` : ""}`, 60)).value = l.id;
    this.select.addEventListener("change", () => this.draw(this.select.value));
    this.draw(this.loads[0].id);
  }
  has(id) { return this.loads.some((l) => l.id === id); }
  show(id) { this.select.value = id; this.draw(id); this.section.scrollIntoView(); }
  draw(id) {
    const load = this.loads.find((l) => l.id === id), host = document.getElementById("profile-figure");
    host.textContent = "";
    const steps = load.profile, at = steps.findIndex(([part]) => part === id);
    const feed = steps.slice(0, at), back = steps.slice(at);
    const count = Math.max(feed.length, back.length), step = Math.max(64, Math.min(130, 900 / count));
    const [left, right, gap, high, top] = [62, 24, 62, 150, 26], width = left + right + step * count;
    const height = top + 2 * high + gap + 66;
    const svg = d3.select(host).append("svg").attr("viewBox", `0 0 ${width} ${height}`).attr("width", width).attr("role", "img").attr("class", "profile");
    const side = (list, title, y0, words) => {
      const volts = list.map(([, v]) => v), least = Math.min(...volts), most = Math.max(...volts), room = Math.max(most - least, 1e-3);
      const y = d3.scaleLinear([least - 0.08 * room, most + 0.08 * room], [y0 + high, y0]);
      svg.append("g").attr("class", "axis").attr("transform", `translate(${left},0)`).call(d3.axisLeft(y).ticks(4).tickSize(-(width - left - right)).tickFormat(y.tickFormat(4)));
      svg.append("text").attr("class", "axis-name").attr("x", left).attr("y", y0 - 9).text(title);
      const x = (n) => left + step * (n + 0.5);
      const line = list.map(([, v], n) => `${n ? "L" : "M"}${x(n)},${y(v)}`).join("");
      svg.append("path").attr("class", "profile-line").attr("d", line);
      list.forEach(([part, v], n) => {
        svg.append("circle").attr("class", "profile-dot").attr("cx", x(n)).attr("cy", y(v)).attr("r", 3.5);
        const name = svg.append("text").attr("x", x(n)).attr("y", y0 + high + 16).attr("text-anchor", "middle").text(clipMiddle(part, Math.floor(step / 7)));
        name.append("title").text(part);
        // Three figures would hide the steps between parts: 11.6, 11.6, 11.6 V.
        svg.append("text").attr("class", "profile-value").attr("x", x(n)).attr("y", y0 + high + 30).attr("text-anchor", "middle").text(`${Math.abs(v) >= 1 ? v.toFixed(2) : fig(v)} V`);
      });
      words.push(`${title}: ${list.map(([part, v]) => `${part} ${fig(v)} V`).join(", ")}`);
    };
    const words = [];
    side(feed, "Feed: voltage behind each part, V", top, words);
    side(back, `Return: voltage from ${clip(id, 30)} back, V`, top + high + gap, words);
    const between = feed[feed.length - 1][1] - back[0][1];
    const said = `${id} gets ${quantity(between, "V")}${known(load.minimum_v) ? `, needs ${quantity(load.minimum_v, "V")}` : ""}: ${quantity(feed[0][1] - feed[feed.length - 1][1], "V")} is lost in the feed and ${quantity(back[0][1], "V")} in the return.`;
    svg.attr("aria-label", clip(`${said} ${words.join(". ")}`, 1500));
    element(host, "p", known(load.minimum_v) && between < load.minimum_v ? "grade-error wraps" : "", said);
  }
}
