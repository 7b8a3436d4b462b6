"use strict";
/* The picture: the way out above, the way back below, outputs left, loads right. */

const FOLD_ABOVE = 350; // visual nodes; more than that and what hangs behind a branch is folded

/** Which copper is whose: pieces of joined nodes, feed where they hold a plus terminal. */
function readHarness() {
  const kinds = new Map();
  for (const list of ["outputs", "loads", "devices", "switches", "conductors", "contacts"]) for (const row of results[list] || []) kinds.set(row.id, list);
  const outputs = [], loads = [], parts = [];
  for (const [id, a, b] of results.links || []) {
    const kind = kinds.get(id);
    if (kind === "outputs") outputs.push({ id, plus: a, minus: b });
    else if (kind === "loads") loads.push({ id, plus: a, minus: b });
    else if (kind) parts.push({ id, a, b, kind });
  }
  const parent = new Map();
  const find = (x) => { let top = x; while (parent.has(top) && parent.get(top) !== top) top = parent.get(top); while (parent.get(x) !== top && parent.has(x)) { const next = parent.get(x); parent.set(x, top); x = next; } return top; };
  for (const { a, b } of parts) { const x = find(a), y = find(b); if (x !== y) parent.set(x, y); }
  const plusPieces = new Set(outputs.map((o) => find(o.plus)));
  const minusPieces = new Set(outputs.map((o) => find(o.minus)));
  const laneOf = (node) => (plusPieces.has(find(node)) ? "out" : minusPieces.has(find(node)) ? "back" : "loose");
  return { outputs, loads, parts, laneOf };
}

/** Visual nodes and bundled links of one lane. */
function laneModel(harness, lane) {
  const nodes = new Map(), ends = new Map();
  const contactBody = new Map((results.contacts || []).map((c) => [c.id, c.connector]));
  const degree = new Map();
  const wires = [];
  const bodyNode = (key, kind, label, ids) => { if (!nodes.has(key)) nodes.set(key, { key, kind, label, ids: new Set() }); for (const id of ids) nodes.get(key).ids.add(id); return key; };
  const alias = new Map(); // joint -> visual node that stands for it
  const root = (x) => { while (alias.has(x)) x = alias.get(x); return x; };
  const merge = (joint, key) => { const from = root(joint); if (from !== key) alias.set(from, key); };
  for (const o of harness.outputs) { const joint = lane === "out" ? o.plus : o.minus; if (harness.laneOf(joint) === lane) { const key = `o ${o.id}`; bodyNode(key, "output", o.id, [o.id]); wires.push({ a: key, b: joint, ids: [], kind: "lead" }); } }
  for (const l of harness.loads) { const joint = lane === "out" ? l.plus : l.minus; if (harness.laneOf(joint) === lane || harness.laneOf(joint) === "loose") { if (harness.laneOf(joint) === "loose" && lane === "back") continue; const key = `l ${l.id}`; bodyNode(key, "load", l.id, [l.id]); wires.push({ a: joint, b: key, ids: [], kind: "lead" }); } }
  for (const p of harness.parts) {
    const where = harness.laneOf(p.a);
    if (where !== lane && !(where === "loose" && lane === "out")) continue;
    if (p.kind === "conductors") wires.push({ a: p.a, b: p.b, ids: [p.id], kind: "wire" });
    else if (p.kind === "contacts") { const key = bodyNode(`c ${contactBody.get(p.id)}`, "connector", contactBody.get(p.id), [p.id]); wires.push({ a: p.a, b: key, ids: [], kind: "lead" }, { a: key, b: p.b, ids: [], kind: "lead" }); }
    else { const key = bodyNode(`d ${p.id}`, "device", p.id, [p.id]); wires.push({ a: p.a, b: key, ids: [], kind: "lead" }, { a: key, b: p.b, ids: [], kind: "lead" }); }
  }
  // A joint that only leads touch, or one lead and one wire, is no branch: the lead vanishes into the body.
  const touch = new Map();
  const note = (x, w) => { if (!nodes.has(x)) { if (!touch.has(x)) touch.set(x, []); touch.get(x).push(w); } };
  for (const w of wires) { note(w.a, w); note(w.b, w); }
  for (const [joint, list] of touch) {
    const bodies = new Set(list.filter((w) => w.kind === "lead").map((w) => (nodes.has(w.a) ? w.a : w.b)));
    if (bodies.size === 1) merge(joint, [...bodies][0]);
  }
  const links = new Map();
  for (const w of wires) {
    const a = root(w.a), b = root(w.b);
    if (a === b) { if (w.ids.length) for (const id of w.ids) nodes.get(a)?.ids.add(id); continue; }
    for (const x of [a, b]) if (!nodes.has(x)) nodes.set(x, { key: x, kind: "joint", label: x, ids: new Set() });
    const key = a < b ? `${a}\n${b}` : `${b}\n${a}`;
    if (!links.has(key)) links.set(key, { a, b, ids: [] });
    links.get(key).ids.push(...w.ids);
  }
  return { lane, nodes, links: [...links.values()] };
}

/** Distances from the outputs, so that every link runs left to right. */
function orient(model) {
  const next = new Map();
  for (const link of model.links) for (const [x, y] of [[link.a, link.b], [link.b, link.a]]) { if (!next.has(x)) next.set(x, []); next.get(x).push(y); }
  const depth = new Map();
  let ring = [...model.nodes.values()].filter((n) => n.kind === "output").map((n) => n.key);
  if (!ring.length && model.nodes.size) ring = [model.nodes.keys().next().value];
  ring.forEach((x) => depth.set(x, 0));
  const behind = new Map();
  const order = [...ring];
  for (let i = 0; i < order.length; i++) for (const y of next.get(order[i]) || []) if (!depth.has(y)) { depth.set(y, depth.get(order[i]) + 1); behind.set(y, order[i]); order.push(y); }
  for (const key of model.nodes.keys()) if (!depth.has(key)) depth.set(key, 0);
  for (const link of model.links) if (depth.get(link.a) > depth.get(link.b)) [link.a, link.b] = [link.b, link.a];
  return { depth, behind, order };
}

/** Fold what hangs behind branches until few enough nodes are left; opened ones stay open. */
function fold(model, opened) {
  const { behind, order } = orient(model);
  model.folded = new Map();
  if (model.nodes.size <= FOLD_ABOVE) return model;
  const kept = new Set();
  for (const key of order) {
    const host = behind.get(key);
    if (host !== undefined && !kept.has(host)) continue;
    if (kept.size < FOLD_ABOVE || (host !== undefined && opened.has(host))) kept.add(key);
  }
  const standsFor = new Map();
  for (const key of order) standsFor.set(key, kept.has(key) ? key : standsFor.get(behind.get(key)) ?? behind.get(key));
  for (const key of order) if (!kept.has(key)) { const host = standsFor.get(key); model.folded.set(host, (model.folded.get(host) || 0) + 1); model.nodes.delete(key); }
  model.links = model.links.filter((l) => model.nodes.has(l.a) && model.nodes.has(l.b));
  return model;
}

const BOX = { output: [104, 40], load: [124, 40], connector: [108, 40], device: [92, 40], joint: [9, 9] };

function layout(model) {
  const graph = new dagre.graphlib.Graph();
  graph.setGraph({ rankdir: "LR", nodesep: 16, ranksep: 92, edgesep: 10, marginx: 10, marginy: 10, ranker: model.nodes.size > 150 ? "longest-path" : "network-simplex" });
  graph.setDefaultEdgeLabel(() => ({}));
  orient(model);
  for (const node of model.nodes.values()) { const [width, height] = BOX[node.kind]; graph.setNode(node.key, { width, height, node }); }
  for (const link of model.links) graph.setEdge(link.a, link.b, { link, minlen: 1, weight: link.ids.length ? 2 : 1 });
  dagre.layout(graph);
  return graph;
}

/** Loads of every lane stand in one column at the right. */
function alignLoads(graphs) {
  const all = graphs.flatMap((graph) => graph.nodes().map((key) => graph.node(key)));
  const right = Math.max(0, ...all.map((at) => at.x));
  for (const at of all) if (at.node.kind === "load") at.x = right;
  return right;
}

class HarnessPicture {
  constructor(svg, tell, jump) {
    this.svg = d3.select(svg); this.tell = tell; this.jump = jump; this.caseId = ""; this.opened = new Set(); this.marked = new Set();
    this.harness = readHarness();
    this.zoom = d3.zoom().scaleExtent([0.05, 6]).on("zoom", (event) => this.stage.attr("transform", event.transform));
    this.stage = this.svg.append("g");
    this.svg.call(this.zoom).on("dblclick.zoom", null);
    this.build();
  }
  build() {
    this.stage.selectAll("*").remove();
    const lanes = [];
    for (const [lane, words] of [["out", "Way out"], ["back", "Way back"]]) {
      const model = fold(laneModel(this.harness, lane), this.opened);
      if (model.nodes.size) lanes.push({ model, words, graph: layout(model) });
    }
    const width = alignLoads(lanes.map((l) => l.graph)) + BOX.load[0];
    let top = 26;
    for (const { model, words, graph } of lanes) {
      const group = this.stage.append("g").attr("transform", `translate(0,${top})`);
      group.append("text").attr("class", "lane").attr("x", 10).attr("y", -8).text(words);
      this.drawLinks(group, graph); this.drawNodes(group, graph, model);
      top += (graph.graph().height || 0) + 58;
    }
    this.extent = [Math.max(width, 50), Math.max(top, 50)];
    this.paint(); this.fit();
  }
  drawLinks(group, graph) {
    const line = d3.line().curve(d3.curveMonotoneX);
    const picture = this;
    for (const e of graph.edges()) {
      const { link, points } = graph.edge(e); const a = graph.node(e.v), b = graph.node(e.w);
      const half = (n) => BOX[n.node.kind][0] / 2;
      const path = line([[a.x + (a.x <= b.x ? half(a) : -half(a)), a.y], ...points.slice(1, -1).map((p) => [p.x, p.y]), [b.x + (a.x <= b.x ? -half(b) : half(b)), b.y]]);
      const g = group.append("g").attr("class", "link").datum(link);
      g.append("path").attr("class", "wire").attr("d", path);
      if (!link.ids.length) continue;
      g.append("path").attr("class", "catch").attr("d", path);
      const middle = points[Math.floor(points.length / 2)];
      g.append("text").attr("class", "name").attr("text-anchor", "middle").attr("x", middle.x).attr("y", middle.y - 6);
      g.append("text").attr("class", "quiet").attr("text-anchor", "middle").attr("x", middle.x).attr("y", middle.y + 15);
      g.attr("tabindex", 0).attr("role", "button")
        .on("mouseenter focus", () => picture.tell(picture.words(link.ids)))
        .on("click keydown", (event) => { if (event.type === "click" || event.key === "Enter" || event.key === " ") { event.preventDefault(); picture.jump(picture.worst(link.ids)); } });
    }
  }
  drawNodes(group, graph, model) {
    const picture = this;
    for (const key of graph.nodes()) {
      const at = graph.node(key), node = at.node, [width, height] = BOX[node.kind], ids = [...node.ids];
      const g = group.append("g").attr("transform", `translate(${at.x},${at.y})`);
      const hidden = model.folded.get(key);
      if (node.kind === "joint") { g.attr("class", "joint").append("circle").attr("r", 3.5); }
      else {
        g.attr("class", "box").datum({ ids });
        g.append("rect").attr("x", -width / 2).attr("y", -height / 2).attr("width", width).attr("height", height).attr("rx", node.kind === "load" ? 14 : node.kind === "connector" ? 2 : 5);
        const label = node.label.length > 16 ? `${node.label.slice(0, 15)}…` : node.label;
        g.append("text").attr("text-anchor", "middle").attr("y", -2).text(label);
        g.append("text").attr("class", "quiet value").attr("text-anchor", "middle").attr("y", 12);
        g.attr("tabindex", 0).attr("role", "button")
          .on("mouseenter focus", () => picture.tell(picture.words(ids)))
          .on("click keydown", (event) => { if (event.type === "click" || event.key === "Enter" || event.key === " ") { event.preventDefault(); picture.jump(picture.worst(ids)); } });
      }
      if (hidden) {
        const open = g.append("g").attr("class", "box").attr("transform", `translate(${width / 2 + 44},${0})`).attr("tabindex", 0).attr("role", "button").attr("aria-label", `show ${hidden} more parts behind ${node.label}`);
        open.append("rect").attr("x", -36).attr("y", -11).attr("width", 72).attr("height", 22).attr("rx", 11);
        open.append("text").attr("text-anchor", "middle").attr("y", 4).text(`+ ${hidden} parts`);
        open.on("click keydown", (event) => { if (event.type === "click" || event.key === "Enter") { picture.opened.add(key); picture.build(); } });
      }
    }
  }
  /** The part of a group that is worst used, else carries most. */
  worst(ids) {
    const rank = (id) => { const row = rowsById.get(id)?.row; return row ? [useIn(row, this.caseId) ?? -1, currentIn(row, this.caseId) ?? -1] : [-2, -2]; };
    return [...ids].sort((x, y) => { const a = rank(x), b = rank(y); return b[0] - a[0] || b[1] - a[1]; })[0];
  }
  words(ids) {
    if (ids.length === 1) return inWords(ids[0], this.caseId);
    const worst = this.worst(ids);
    return `${ids.length} parts side by side (${ids.slice(0, 8).join(", ")}${ids.length > 8 ? ", …" : ""}), ${quantity(this.sum(ids), "A")} together; the worst is ${inWords(worst, this.caseId)}`;
  }
  sum(ids) { return ids.reduce((total, id) => total + (currentIn(rowsById.get(id)?.row || {}, this.caseId) || 0), 0); }
  /** Widths, colours and words for the case chosen. */
  paint() {
    const picture = this;
    this.stage.selectAll("g.link").each(function (link) {
      const g = d3.select(this);
      const worst = link.ids.length ? picture.worst(link.ids) : null;
      const row = worst ? rowsById.get(worst)?.row : null;
      const share = row ? useIn(row, picture.caseId) : null;
      const amperes = picture.sum(link.ids);
      const wide = link.ids.length ? 1.6 + Math.min(11, 1.5 * Math.sqrt(amperes)) : 1.2;
      g.select("path.wire").attr("class", `wire ${link.ids.length ? useClass(share) : "u-none"}`).attr("stroke-width", wide);
      g.select("text.name").attr("dy", -wide / 2);
      g.select("text.quiet").attr("dy", wide / 2);
      if (!link.ids.length) { g.select("path.wire").style("stroke-dasharray", "none"); return; }
      const name = link.ids.length === 1 ? link.ids[0] : `${link.ids.length} × ${link.ids[0]}…`;
      g.select("text.name").text(name.length > 18 ? `${name.slice(0, 17)}…` : name);
      g.select("text.quiet").text(`${fig(amperes)} A · ${share === null || share === undefined ? "not rated" : percent(share)}${share > 1.0000000001 ? " OVER" : ""}`);
      g.attr("aria-label", picture.words(link.ids)).classed("marked", link.ids.some((id) => picture.marked.has(id)));
    });
    this.stage.selectAll("g.box").each(function (node) {
      if (!node) return;
      const g = d3.select(this), row = rowsById.get(picture.worst(node.ids))?.row;
      if (!row) return;
      const share = useIn(row, picture.caseId);
      const many = node.ids.length > 1 ? "worst " : "";
      g.select("text.value").text(`${many}${fig(currentIn(row, picture.caseId))} A${share !== null && share !== undefined ? ` · ${percent(share)}` : ""}`);
      g.attr("aria-label", picture.words(node.ids)).classed("marked", node.ids.some((id) => picture.marked.has(id)));
      g.select("rect").attr("class", share === undefined ? null : useClass(share)).style("stroke-dasharray", "none");
    });
  }
  fit() {
    const [width, height] = this.extent;
    const room = this.svg.node().parentNode.clientWidth;
    this.svg.style("height", `${Math.max(260, Math.min(window.innerHeight * 0.72, (height + 20) * Math.min(1.6, room / (width + 30))))}px`);
    const box = this.svg.node().getBoundingClientRect();
    if (!box.width) return;
    const scale = Math.min(box.width / (width + 30), box.height / (height + 10), 1.6);
    this.svg.call(this.zoom.transform, d3.zoomIdentity.translate((box.width - width * scale) / 2, (box.height - height * scale) / 2).scale(scale));
  }
  by(factor) { this.svg.call(this.zoom.scaleBy, factor); }
}
