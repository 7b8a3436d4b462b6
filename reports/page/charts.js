"use strict";
/* Time–current charts: the device's band and what the wires behind it stand. */

const LONGEST_S = 3600, SHORTEST_S = 0.001, ADIABATIC_S = 5;

/** k²S² of a conductor in A²s, from its dead-short row; null where it is not known. */
const withstand = new Map((results.shorts || []).filter((s) => s.withstand_a2s).map((s) => [s.conductor, s.withstand_a2s]));

/** The wires behind a device that burn first: thinnest allowed current first, at most three different ones. */
function wiresBehind(device) {
  const seen = new Set();
  return (device.protects || []).map((id) => rowsById.get(id)).filter((f) => f && f.list === "conductors" && f.row.allowed_a)
    .map((f) => f.row).sort((x, y) => x.allowed_a - y.allowed_a)
    .filter((row) => { const key = `${row.gauge} ${row.allowed_a.toPrecision(3)}`; if (seen.has(key)) return false; seen.add(key); return true; }).slice(0, 3);
}

function deviceChart(host, device) {
  const figure = d3.select(host).append("figure");
  const wires = wiresBehind(device);
  const band = (device.band || []).filter(([current]) => current > 0);
  const currents = [...band.map(([c]) => c), ...wires.map((w) => w.allowed_a), device.setting_a, device.clears_a, device.prospective_a].filter((c) => c > 0 && Number.isFinite(c));
  const low = Math.min(...currents) / 2, high = Math.max(...currents, 10 * low) * 2;
  const [width, height, left, bottom, top] = [460, 300, 58, 42, 14];
  const svg = figure.append("svg").attr("viewBox", `0 0 ${width} ${height}`).attr("role", "img");
  const x = d3.scaleLog([low, high], [left, width - 16]), y = d3.scaleLog([SHORTEST_S, LONGEST_S * 3], [height - bottom, top]);
  const decades = (values) => values.filter((v) => Math.abs(Math.log10(v) - Math.round(Math.log10(v))) < 1e-9);
  svg.append("g").attr("class", "axis").attr("transform", `translate(0,${height - bottom})`).call(d3.axisBottom(x).ticks(6, "~g"));
  svg.append("g").attr("class", "axis").attr("transform", `translate(${left},0)`).call(d3.axisLeft(y).tickValues(decades(y.ticks())).tickFormat((s) => quantity(s, "s")));
  svg.append("text").attr("x", (left + width) / 2).attr("y", height - 6).attr("text-anchor", "middle").text("current in A");
  svg.append("text").attr("transform", `translate(12,${height / 2}) rotate(-90)`).attr("text-anchor", "middle").text("time to open");
  const clip = `clip-${Math.random().toString(36).slice(2)}`;
  svg.append("clipPath").attr("id", clip).append("rect").attr("x", left).attr("y", top).attr("width", width - 16 - left).attr("height", height - bottom - top);
  const plot = svg.append("g").attr("clip-path", `url(#${clip})`);
  const bound = (s, other) => Math.min(LONGEST_S * 3, Math.max(SHORTEST_S, s === null || s === undefined ? other : s));
  const fast = band.map(([c, fastest]) => [x(c), y(bound(fastest, LONGEST_S * 3))]);
  const slow = band.map(([c, , slowest]) => [x(c), y(bound(slowest, LONGEST_S * 3))]);
  if (band.length) {
    const curve = d3.line().curve(device.gates ? d3.curveStepAfter : d3.curveLinear);
    const beyond = (points) => [...points, [x(high), points[points.length - 1][1]]];
    const area = d3.area().curve(device.gates ? d3.curveStepAfter : d3.curveLinear).x((_, i) => beyond(slow)[i][0]).y0((_, i) => beyond(fast)[i][1]).y1((_, i) => beyond(slow)[i][1]);
    plot.append("path").attr("class", "band").attr("d", area(beyond(slow)));
    plot.append("path").attr("class", "band-edge").attr("d", curve(beyond(slow)));
    plot.append("path").attr("class", "band-edge").attr("d", curve(beyond(fast)));
  }
  const words = [];
  wires.forEach((wire, n) => {
    const heat = withstand.get(wire.id), points = [[wire.allowed_a, LONGEST_S * 3]];
    if (heat) {
      const knee = Math.max(wire.allowed_a, Math.sqrt(heat / ADIABATIC_S));
      points.push([wire.allowed_a, heat / wire.allowed_a ** 2 < LONGEST_S ? Math.max(ADIABATIC_S, heat / wire.allowed_a ** 2) : ADIABATIC_S * 60]);
      for (let current = knee; current <= high * 1.01; current *= 1.15) points.push([current, heat / current ** 2]);
    } else points.push([wire.allowed_a, SHORTEST_S]);
    plot.append("path").attr("class", `wire-line ${["", "b", "c"][n]}`).attr("d", d3.line()(points.map(([c, s]) => [x(c), y(Math.max(SHORTEST_S, Math.min(LONGEST_S * 3, s)))])));
    words.push(`${wire.id} (${wire.gauge || "no gauge"}): allowed ${quantity(wire.allowed_a, "A")}${heat ? `, ${fig(heat)} A²s` : ", short-time withstand not known"}`);
  });
  if (device.prospective_a) plot.append("line").attr("x1", x(device.prospective_a)).attr("x2", x(device.prospective_a)).attr("y1", top).attr("y2", height - bottom).attr("stroke", "currentColor").attr("stroke-dasharray", "1 4");
  const text = `${device.id}, ${device.kind}${device.setting_a ? ` ${quantity(device.setting_a, "A")}` : ""}${device.curve ? `, ${device.curve}` : ""}: certainly carries ${quantity(device.carries_a, "A")}, certainly clears above ${quantity(device.clears_a, "A")}.`;
  svg.append("title").text(text);
  const caption = figure.append("figcaption");
  caption.append("strong").text(text);
  caption.append("div").text(words.length ? `Behind it — solid, dashed, dotted: ${words.join("; ")}.` : "No rated wire behind it.");
  if (device.prospective_a) caption.append("div").text(`Dotted upright: dead short just behind it, ${quantity(device.prospective_a, "A")}.`);
  if (device.curve_source) caption.append("div").text(`Band: ${device.curve_source}${device.gates ? " (gates, no curve between them)" : ""}.`);
}
