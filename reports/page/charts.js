"use strict";
/* Time–current charts: the device's band and what the wires behind it stand. */

const LONGEST_S = 10800, SHORTEST_S = 0.001;
const TIMES = [[0.001, "1 ms"], [0.01, "10 ms"], [0.1, "0.1 s"], [1, "1 s"], [10, "10 s"], [60, "1 min"], [600, "10 min"], [3600, "1 h"]];
const WIRE_DASHES = ["", "8 4", "2 4"];

/** k²S² of a conductor in A²s, from its short-circuit row. */
const withstand = new Map((results.short_circuits || []).filter((s) => s.withstand_a2s).map((s) => [s.conductor, s.withstand_a2s]));

/** The wires behind a device that burn first: thinnest allowed current first, at most three different ones. */
function wiresBehind(device) {
  const seen = new Set();
  return (device.protects || []).map((id) => rowsById.get(id)).filter((f) => f && f.list === "conductors" && f.row.allowed_a)
    .map((f) => f.row).sort((x, y) => x.allowed_a - y.allowed_a)
    .filter((row) => { const key = `${row.gauge} ${row.allowed_a.toPrecision(3)}`; if (seen.has(key)) return false; seen.add(key); return true; }).slice(0, WIRE_DASHES.length);
}

/** What a wire stands, as (A, s): by its own points where they are known, which begin with k²S²/I² and end with the allowed
 * current; else its allowed current continuously, and for a short time k²S²/I² where that is more. */
function wireLine(wire, heat, points) {
  if (points) return [...points.map(([s, current]) => [current, s]), [wire.allowed_a, LONGEST_S]];
  const line = [[wire.allowed_a, LONGEST_S]];
  if (!heat) return [...line, [wire.allowed_a, SHORTEST_S]];
  const bend = heat / wire.allowed_a ** 2;
  if (bend < LONGEST_S) line.push([wire.allowed_a, bend]);
  line.push([Math.sqrt(heat / Math.min(bend, LONGEST_S)), Math.min(bend, LONGEST_S)], [Math.sqrt(heat / SHORTEST_S), SHORTEST_S]);
  return line;
}

/** Whether a wire is protected and, where it is not by this device alone, why: what its own row says. */
function guardWords(device, wire) {
  const words = extra.guards[device.id]?.[wire.id] ?? (wire.protected === true ? "protected" : wire.protected === false ? `NOT protected: ${extra.unprotected[wire.id] ?? "see its row"}` : "whether it is protected is not determined");
  return `; ${words}`;
}

function deviceChart(host, device, number) {
  const figure = d3.select(host).append("figure").attr("id", `chart-${number}`).attr("tabindex", -1);
  const wires = wiresBehind(device), band = (device.band || []).filter(([current]) => current > 0);
  const load = device.current_a;
  const events = (device.events || []).filter(([s, current]) => s > 0 && current > 0);
  const marks = [...events.map(([, current]) => current), ...wires.map((w) => w.allowed_a), device.setting_a, device.non_tripping_a, device.tripping_a, device.prospective_a, load].filter((c) => c > 0 && Number.isFinite(c));
  const low = Math.min(...marks, band[0]?.[0] ?? Infinity, marks.length || band.length ? Infinity : 1) / 1.6;
  const high = Math.max(1.6 * Math.max(0, ...marks), 12 * (device.tripping_a || device.setting_a || 0), 10 * low);
  const [width, height, left, right, bottom, top] = [470, 300, 62, 14, 44, 12];
  const svg = figure.append("svg").attr("viewBox", `0 0 ${width} ${height}`).attr("role", "img");
  const x = d3.scaleLog([low, high], [left, width - right]), y = d3.scaleLog([SHORTEST_S, LONGEST_S], [height - bottom, top]);
  const lead = (v) => Math.round(v / 10 ** Math.floor(Math.log10(v) + 1e-9));
  const ticks = x.ticks(20).filter((v) => (high / low > 3000 ? [1] : high / low > 60 ? [1, 3] : [1, 2, 5]).includes(lead(v)));
  svg.append("g").attr("class", "axis").attr("transform", `translate(0,${height - bottom})`).call(d3.axisBottom(x).tickValues(ticks).tickSize(-(height - bottom - top)).tickFormat((v) => String(Number(v.toPrecision(2))).replace(".", decimalSign)));
  svg.append("g").attr("class", "axis").attr("transform", `translate(${left},0)`).call(d3.axisLeft(y).tickValues(TIMES.map(([s]) => s)).tickSize(-(width - left - right)).tickFormat((s) => TIMES.find(([t]) => t === s)[1].replace(".", decimalSign)));
  svg.append("text").attr("class", "axis-name").attr("x", (left + width - right) / 2).attr("y", height - 8).attr("text-anchor", "middle").text("Current, A");
  svg.append("text").attr("class", "axis-name").attr("transform", `translate(13,${(top + height - bottom) / 2}) rotate(-90)`).attr("text-anchor", "middle").text("Time to open");
  const clipId = `clip-${number}`;
  svg.append("clipPath").attr("id", clipId).append("rect").attr("x", left).attr("y", top).attr("width", width - right - left).attr("height", height - bottom - top);
  const plot = svg.append("g").attr("clip-path", `url(#${clipId})`);

  const bound = (s) => y(Math.min(LONGEST_S * 2, Math.max(SHORTEST_S, known(s) ? s : LONGEST_S * 2)));
  const open = band.length > 0 && !known(band[band.length - 1][2]);
  if (band.length) {
    const points = band.map(([current, fastest, slowest]) => [x(current), bound(fastest), bound(slowest)]);
    points.push([Math.max(x(high), points[points.length - 1][0]), points[points.length - 1][1], points[points.length - 1][2]]);
    const curve = device.gates ? d3.curveStepAfter : d3.curveLinear; // gates say nothing between them: steps, no curve
    plot.append("path").attr("class", `band ${open ? "open" : ""}`).attr("d", d3.area().curve(curve).x((p) => p[0]).y0((p) => p[1]).y1((p) => p[2])(points));
    for (const edge of open ? [1] : [1, 2]) plot.append("path").attr("class", "band-edge").attr("d", d3.line().curve(curve).x((p) => p[0]).y((p) => p[edge])(points));
    plot.append("line").attr("class", "band-edge").attr("x1", points[0][0]).attr("x2", points[0][0]).attr("y1", points[0][1]).attr("y2", points[0][2]);
  }
  const upright = (current, className) => { if (known(current) && current > 0) plot.append("line").attr("class", className).attr("x1", x(current)).attr("x2", x(current)).attr("y1", top).attr("y2", height - bottom); };
  // An output's limit and trip are currents without a stated time: two lines, and no band between them.
  if (!band.length) for (const current of [device.non_tripping_a, device.tripping_a]) upright(current, "band-edge");
  upright(load, "load-line"); upright(device.prospective_a, "short-line");
  for (const [s, current] of events) plot.append("circle").attr("class", "event-mark").attr("r", 3.2).attr("cx", x(current)).attr("cy", bound(s));
  wires.forEach((wire, n) => plot.append("path").attr("class", "wire-line").attr("stroke-dasharray", WIRE_DASHES[n] || null).attr("d", d3.line()(wireLine(wire, withstand.get(wire.id), (device.withstand || {})[wire.id]).map(([c, s]) => [x(c), y(s)]))));

  const fuse = ["fuse", "breaker"].includes(device.kind);
  const title = `${clipMiddle(device.id, 40)}, ${device.kind}${device.setting_a ? ` ${quantity(device.setting_a, "A")}` : ""}`;
  const sentence = device.kind === "output" ? `Limit ${quantity(device.non_tripping_a, "A")} (the most that loads may ask of it), trip ${quantity(device.tripping_a, "A")} (where it switches off by itself), as stated.` : `Non-tripping current ${quantity(device.non_tripping_a, "A")}, tripping current ${quantity(device.tripping_a, "A")}${known(device.tripping_within_s) ? `, within ${quantity(device.tripping_within_s, "s")}` : ""}.`;
  const caption = figure.append("figcaption");
  const heading = caption.append("strong");
  heading.append("button").attr("type", "button").attr("class", "plain").text(title).on("click", () => jumpTo(device.id));
  const grave = gravest([device.id]);
  if (grave) heading.append("span").attr("class", grave[0]).text(` ${grave[1].slice(0, 1)} ${grave[2]}`);
  caption.append("div").text(sentence);
  const legend = caption.append("ul");
  const entry = (draw, words) => { const item = legend.append("li"); draw(item.append("svg").attr("viewBox", "0 0 34 12").attr("aria-hidden", "true")); item.append("span").text(words); };
  const swatch = (className, dash) => (s) => s.append("line").attr("class", className).attr("x1", 1).attr("x2", 33).attr("y1", 6).attr("y2", 6).attr("stroke-dasharray", dash || null);
  const words = [];
  const say = (draw, text) => { entry(draw, text); words.push(text); };
  if (band.length) say((s) => s.append("rect").attr("class", `band ${open ? "open" : ""}`).attr("width", 34).attr("height", 12), open ? "opens from the lower edge on; how slowly is not stated" : `opens within this band${device.gates ? " (limits in steps, nothing is known between them)" : ""}`);
  if (!band.length && (known(device.non_tripping_a) || known(device.tripping_a))) say(swatch("band-edge"), `${device.kind === "output" ? "limit and trip" : "non-tripping and tripping current"}; how fast it opens is not drawn`);
  wires.forEach((wire, n) => say(swatch("wire-line", WIRE_DASHES[n]), `${clipMiddle(wire.id, 30)}${wire.gauge ? `, ${wire.gauge}` : ""}: allowed ${quantity(wire.allowed_a, "A")}${withstand.get(wire.id) ? "" : ", short-time withstand not known"}${guardWords(device, wire)}`));
  if (!wires.length) caption.append("div").text("It protects no rated wire by itself.");
  if (known(load) && load > 0) say(swatch("load-line"), `load current, ${quantity(load, "A")} at worst`);
  if (events.length) say((g) => g.append("circle").attr("class", "event-mark").attr("r", 3.2).attr("cx", 17).attr("cy", 6), `load's start or event, up to ${quantity(Math.max(...events.map((e) => e[1])), "A")}`);
  if (known(device.prospective_a)) say(swatch("short-line"), `short circuit just behind it, ${quantity(device.prospective_a, "A")}`);
  if (fuse && device.curve_source) caption.append("div").attr("class", "source").text(`Band: ${clip(device.curve_source, 200)}.`);
  svg.attr("aria-label", clip(`${title}. ${sentence} ${words.join("; ")}.`, 900));
}

/** Every device, and every output with a limit or a trip: what has no stated band is drawn by its lines alone. */
function chartedDevices() {
  const outputs = (results.outputs || []).filter((o) => known(o.limit_a) || known(o.trip_a)).map((o) => ({ id: o.id, kind: "output", setting_a: o.limit_a, non_tripping_a: o.limit_a, tripping_a: o.trip_a, current_a: o.current_a, band: [], protects: (results.conductors || []).filter((c) => (c.protected_by || []).includes(o.id)).map((c) => c.id) }));
  return [...(results.devices || []), ...outputs];
}

/** What is known of a device that no chart is drawn of. */
function undrawnWords(d) {
  if (d.kind === "output") return [known(d.non_tripping_a) && `limit ${quantity(d.non_tripping_a, "A")}`, known(d.tripping_a) ? `trip ${quantity(d.tripping_a, "A")}` : "no trip of its own"].filter(Boolean).join(", ");
  return known(d.setting_a) ? `set to ${quantity(d.setting_a, "A")}` : "switched off or not set: it opens at no current";
}

/** All charts, those with findings first; many are drawn only when asked for. */
class Charts {
  constructor(host) {
    this.host = host; this.drawn = 0; this.step = 12;
    const weight = (d) => { const on = findingsOn.get(d.id); return on ? 100 * on.error + on.warning : 0; };
    // Without a band and without a wire behind it a chart would be an empty frame: words say more.
    const says = (d) => (d.band || []).length > 0 || wiresBehind(d).length > 0;
    const undrawn = chartedDevices().filter((d) => !says(d));
    if (undrawn.length) host.before(Object.assign(document.createElement("p"), { className: "hint", id: "undrawn", textContent: `Not drawn, since there is no band to hold against a wire that they guard: ${undrawn.map((d) => `${clipMiddle(d.id, 30)} (${d.kind}, ${undrawnWords(d)})`).join("; ")}.` }));
    this.devices = chartedDevices().filter(says).map((d, n) => [d, n]).sort((x, y) => weight(y[0]) - weight(x[0]) || x[1] - y[1]).map(([d]) => d);
    this.more = document.createElement("button"); this.more.type = "button";
    this.more.addEventListener("click", () => { this.draw(this.drawn + this.step); });
    host.after(this.more);
    this.draw(this.step);
  }
  draw(upTo) {
    if (this.devices.length - upTo <= this.step / 2) upTo = this.devices.length; // no button for the last few
    for (; this.drawn < Math.min(upTo, this.devices.length); this.drawn += 1) deviceChart(this.host, this.devices[this.drawn], this.drawn);
    const left = this.devices.length - this.drawn;
    this.more.hidden = left <= 0;
    this.more.textContent = left > this.step * 1.5 ? `Show ${this.step} of ${left} more charts` : `Show ${left} more charts`;
  }
  show(id) {
    const at = this.devices.findIndex((d) => d.id === id);
    if (at < 0) return;
    this.draw(at + 1);
    const figure = document.getElementById(`chart-${at}`);
    figure.scrollIntoView({ block: "center" }); figure.focus({ preventScroll: true });
  }
  has(id) { return this.devices.some((d) => d.id === id); }
}
