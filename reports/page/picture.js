"use strict";
/* The picture: the feed above, the return below, outputs left, loads right. */

const LANES = [["out", "Feed"], ["back", "Return"], ["loose", "Joined to no output"]];
const BOX_HEIGHT = 34, LABEL = [98, 34], LANE_GAP = 44, MARGIN = 14;
const UNFOLD_STEP = 60; // boxes that one press on "more" adds
const SMALLEST_SCALE = 0.85, READABLE_SCALE = 1.1, LARGEST_SCALE = 1.25; // letters of 12 px: 10 and 13 px

function boxTitle(node) {
  const row = rowOf(node.label);
  if (node.kind === "connector") return node.ids.size === 1 ? clipMiddle([...node.ids][0], 20) : `${clipMiddle(node.label, 14)} · ${plural(node.ids.size, "contact")}`;
  const more = node.kind === "device" ? row?.kind : node.kind === "output" && known(row?.voltage_v) ? quantity(row.voltage_v, "V") : node.kind === "load" ? row?.function || row?.demand : "";
  return clip(`${clipMiddle(node.label, 16)}${node.mark ? ` (${node.mark})` : more ? ` · ${more}` : ""}`, 25);
}
/** Room for the words on a box or wire, with the mark of its findings. */
const wordsWidth = (text, ids) => 20 + 7.3 * (text.length + (gravest(ids)?.[1].length ?? -1) + 1);
/** What is written under a name: the current and its share of what is allowed. */
function numberWords(amperes, share, peak, any) {
  if (!any) return "–";
  const use = known(share) ? peak ? `${percent(share)} peak` : ofAllowed(share) : "";
  return `${fig(amperes)} A${use ? ` · ${use}` : ""}`;
}
/** What stands before a fault's current where parts beside it show their load. */
const BY_FAULT = "fault ";
/** Room for the numbers, whichever current is shown. */
function numbersWidth(ids) {
  const show = picked.show;
  let most = 0;
  for (picked.show of ["load", "fault", "several"]) for (const id of ids.slice(0, 40)) { const { amperes, share } = drawn(rowOf(id)); most = Math.max(most, numberWords(amperes, share, false, known(amperes)).length + (picked.show === "fault" ? BY_FAULT.length : 0)); }
  picked.show = show;
  return 12 + 5.6 * most;
}
function boxWidth(node) { return node.kind === "joint" ? 9 : Math.max(node.kind === "load" ? 116 : 96, numbersWidth([...node.ids]) + (node.kind === "connector" ? 6 : 0), Math.min(200, wordsWidth(boxTitle(node), [...node.ids]))); }
function linkTitle(ids) {
  if (ids.length > 1) return `${ids.length} × ${clipMiddle(ids[0], 12)}`;
  const gauge = rowOf(ids[0])?.gauge?.replace(/, (outer|inner)$/, ""); // a track by width and thickness: its layer says its row
  return clip(`${clipMiddle(ids[0], 14)}${gauge ? ` ${gauge}` : ""}`, 20);
}
function linkWidth(ids) { return Math.max(LABEL[0], numbersWidth(ids) - 4, Math.min(180, wordsWidth(linkTitle(ids), ids) - 10)); }

/** Columns and rows of one lane; loads all stand in the last column. */
function layout(model) {
  const { order } = orient(model);
  const graph = new dagre.graphlib.Graph();
  graph.setGraph({ rankdir: "LR", nodesep: 10, ranksep: 14, edgesep: 8, marginx: MARGIN, marginy: MARGIN, ranker: model.nodes.size > 120 ? "longest-path" : "network-simplex" });
  graph.setDefaultEdgeLabel(() => ({}));
  const into = new Map();
  for (const link of model.links) { if (!into.has(link.b)) into.set(link.b, []); into.get(link.b).push(link); }
  const column = new Map();
  const isLoad = (key) => model.nodes.get(key).kind === "load";
  const there = order.filter((key) => model.nodes.has(key));
  for (const key of [...there.filter((k) => !isLoad(k)), ...there.filter(isLoad)]) column.set(key, Math.max(0, ...(into.get(key) || []).map((l) => (column.get(l.a) ?? 0) + 1)));
  const last = Math.max(0, ...column.values());
  for (const node of model.nodes.values()) graph.setNode(node.key, { width: boxWidth(node), height: node.kind === "joint" ? 9 : BOX_HEIGHT, node });
  for (const link of model.links) {
    const label = link.ids.length ? { width: linkWidth(link.ids), height: LABEL[1], labelpos: "c" } : {};
    const span = isLoad(link.b) && !isLoad(link.a) ? Math.max(1, last - column.get(link.a)) : 1;
    graph.setEdge(link.a, link.b, { ...label, link, minlen: span, weight: link.ids.length ? 2 : 1 });
  }
  for (const [host, hidden] of model.folded) {
    const key = `\u0000more ${host}`;
    graph.setNode(key, { width: 128, height: 24, node: { key, kind: "more", host, hidden, ids: new Set() } });
    graph.setEdge(host, key, { link: { a: host, b: key, ids: [] }, minlen: 1, weight: 1 });
  }
  dagre.layout(graph);
  return graph;
}

class HarnessPicture {
  constructor(svg, { tell, choose }) {
    this.svg = d3.select(svg); this.tell = tell; this.choose = choose;
    this.opened = new Map(); this.wanted = new Set(); this.marked = new Set(); this.fault = null; this.scale = 1;
    this.harness = readHarness();
    this.spots = new Map(); // part id -> the link or box that shows it
    this.joints = new Map(); // joint -> the box or dot that stands for it
    this.build(); this.listen();
  }

  build() {
    this.svg.selectAll("*").remove();
    this.spots.clear(); this.joints.clear(); this.lanes = [];
    let top = 0, wide = 60;
    for (const [lane, words] of LANES) {
      const model = fold(laneModel(this.harness, lane), this.opened, this.wanted);
      if (!model.nodes.size) continue;
      const graph = layout(model), size = graph.graph();
      const high = size.height + LANE_GAP;
      const group = this.svg.append("g").attr("class", "lane").attr("transform", `translate(0,${top})`);
      group.append("text").attr("class", "lane-title").attr("x", MARGIN).attr("y", 24).text(words);
      const inner = group.append("g").attr("transform", `translate(0,${LANE_GAP - 12})`);
      this.drawLinks(inner, graph); this.drawBoxes(inner, graph);
      for (const joint of model.standIn.keys()) if (this.joints.has(model.root(joint))) this.joints.set(joint, this.joints.get(model.root(joint)));
      this.lanes.push({ group: group.node(), width: Math.max(size.width, 240), height: high, model });
      wide = Math.max(wide, size.width); top += high;
    }
    this.extent = [wide, Math.max(top, 60)];
    this.svg.attr("viewBox", `0 0 ${this.extent[0]} ${this.extent[1]}`);
    this.stop = null; this.rove(this.svg.select("g.box.output").node() ?? this.svg.select("[tabindex]").node());
    this.paint(); this.fit();
  }

  drawLinks(group, graph) {
    const line = d3.line().curve(d3.curveMonotoneX);
    // From right to left, so that a fan of wires does not hide the words of one that lies before it.
    for (const e of graph.edges().sort((p, q) => (graph.edge(q).x ?? 0) - (graph.edge(p).x ?? 0))) {
      const edge = graph.edge(e), { link, points } = edge, a = graph.node(e.v), b = graph.node(e.w);
      // Level where the words stand, so that no line crosses them.
      const level = link.ids.length ? [[edge.x - edge.width / 2 + 6, edge.y], [edge.x + edge.width / 2 - 6, edge.y]] : [];
      const inner = points.slice(1, -1).map((p) => [p.x, p.y]).filter(([x]) => !level.length || x < level[0][0] || x > level[1][0]);
      const path = line([[a.x + a.width / 2, a.y], ...[...inner, ...level].sort((p, q) => p[0] - q[0]), [b.x - b.width / 2, b.y]]);
      const g = group.append("g").attr("class", link.ids.length ? "link" : "link lead").datum(link);
      g.append("path").attr("class", "halo").attr("d", path);
      g.append("path").attr("class", "wire").attr("d", path);
      if (!link.ids.length) continue;
      g.append("path").attr("class", "catch").attr("d", path);
      const name = g.append("text").attr("class", "name").attr("text-anchor", "middle").attr("x", edge.x).attr("y", edge.y - 5);
      name.append("tspan").attr("class", "label"); name.append("tspan").attr("class", "badge");
      g.append("text").attr("class", "value").attr("text-anchor", "middle").attr("x", edge.x).attr("y", edge.y + 13);
      this.active(g, link.ids);
    }
  }

  drawBoxes(group, graph) {
    for (const key of graph.nodes()) {
      const { x, y, width, node } = graph.node(key), ids = [...node.ids];
      const g = group.append("g").attr("transform", `translate(${x},${y})`);
      if (node.kind === "more") { this.drawFold(g, node); continue; }
      if (node.kind === "joint") g.attr("class", "joint").append("circle").attr("r", 3.5);
      else {
        g.attr("class", `box ${node.kind}`).datum({ ids, node });
        g.append("rect").attr("class", "frame").attr("x", -width / 2).attr("y", -BOX_HEIGHT / 2).attr("width", width).attr("height", BOX_HEIGHT).attr("rx", { load: 14, connector: 1 }[node.kind] ?? 5);
        if (node.kind === "connector") g.append("path").attr("class", "frame-line").attr("d", `M${-width / 2 + 5},${-BOX_HEIGHT / 2}v${BOX_HEIGHT}M${width / 2 - 5},${-BOX_HEIGHT / 2}v${BOX_HEIGHT}`);
        const name = g.append("text").attr("class", "name").attr("text-anchor", "middle").attr("y", -3);
        name.append("tspan").attr("class", "label").text(boxTitle(node)); name.append("tspan").attr("class", "badge");
        g.append("text").attr("class", "value").attr("text-anchor", "middle").attr("y", 12);
        this.active(g, ids);
      }
      this.joints.set(key, g.node());
    }
  }
  /** What stands for folded boxes; pressing it shows more of them. */
  drawFold(g, { host, hidden }) {
    g.attr("class", "unfold").datum({ hidden }).attr("role", "button").attr("tabindex", -1).attr("aria-label", `+ ${hidden.count} more behind ${clip(host.replace(/^[a-z] /, ""), 80)}: show them`);
    g.append("rect").attr("x", -64).attr("y", -12).attr("width", 128).attr("height", 24).attr("rx", 12);
    g.append("text").attr("text-anchor", "middle").attr("y", 4).text(`+ ${hidden.count} more`);
    const unfold = () => { this.opened.set(host, (this.opened.get(host) || 0) + UNFOLD_STEP); this.build(); this.stop?.focus({ preventScroll: true }); };
    g.on("click", unfold).on("keydown", (event) => { if (event.key === "Enter" || event.key === " ") { event.preventDefault(); unfold(); } });
    for (const id of hidden.ids) if (!this.spots.has(id)) this.spots.set(id, { fold: host });
  }

  /** Makes a link or box answer to pointer and keyboard. */
  active(g, ids) {
    const node = g.node();
    for (const id of ids) if (!this.spots.get(id)?.node) this.spots.set(id, { node }); // of two lanes, the feed
    g.attr("role", "button").attr("tabindex", -1)
      .on("mouseenter focus", () => this.tell(this.words(ids), this.worst(ids)))
      .on("click", () => { this.rove(node); this.choose(ids, this.worst(ids)); })
      .on("keydown", (event) => { if (event.key === "Enter" || event.key === " ") { event.preventDefault(); this.choose(ids, this.worst(ids)); } });
  }

  /** One stop for the Tab key; the arrow keys go from part to part. */
  listen() {
    const svg = this.svg.node(), canvas = svg.parentNode; // listeners on the svg itself would make it a stop of its own
    const turns = { ArrowRight: [1, 0], ArrowLeft: [-1, 0], ArrowDown: [0, 1], ArrowUp: [0, -1] };
    canvas.addEventListener("keydown", (event) => {
      const here = event.target.closest("[tabindex]"), all = [...svg.querySelectorAll("g[tabindex]")];
      let to = null;
      if (event.key === "Home") to = svg.querySelector("g.box.output") ?? all[0];
      else if (event.key === "End") to = [...svg.querySelectorAll("g.box.load")].pop() ?? all[all.length - 1];
      else if (turns[event.key] && here) to = this.neighbour(here, all, turns[event.key]);
      if (!to) return;
      event.preventDefault(); this.rove(to); to.focus();
      to.scrollIntoView({ block: "nearest", inline: "nearest" });
    });
    canvas.addEventListener("focusin", (event) => { const g = event.target.closest("g[tabindex]"); if (g) this.rove(g); });
    canvas.addEventListener("wheel", (event) => { if (event.ctrlKey || event.metaKey) { event.preventDefault(); this.by(event.deltaY < 0 ? 1.15 : 1 / 1.15); } }, { passive: false });
    let drag = null;
    canvas.addEventListener("pointerdown", (event) => { if (event.button === 0 && !event.target.closest("g[tabindex]")) drag = [event.clientX + canvas.scrollLeft, event.clientY + canvas.scrollTop]; });
    window.addEventListener("pointermove", (event) => { if (drag) { canvas.scrollLeft = drag[0] - event.clientX; canvas.scrollTop = drag[1] - event.clientY; } });
    window.addEventListener("pointerup", () => { drag = null; });
  }
  rove(node) {
    if (!node) return;
    if (this.stop && this.stop !== node) this.stop.setAttribute("tabindex", -1);
    this.stop = node; node.setAttribute("tabindex", 0);
  }
  neighbour(here, all, [dx, dy]) {
    const middle = (g) => { const r = (g.querySelector("text") || g).getBoundingClientRect(); return [r.x + r.width / 2, r.y + r.height / 2]; };
    const [x, y] = middle(here);
    let best = null, least = Infinity;
    for (const g of all) {
      if (g === here) continue;
      const [gx, gy] = middle(g), ahead = (gx - x) * dx + (gy - y) * dy, aside = Math.abs((gx - x) * dy) + Math.abs((gy - y) * dx);
      if (ahead > 2 && ahead + 3 * aside < least) { least = ahead + 3 * aside; best = g; }
    }
    return best;
  }

  /** The part of a group that is worst used, else carries most. */
  worst(ids) {
    if (!ids.length) return undefined;
    const rank = (id) => { const { share, amperes } = drawn(rowOf(id)); return [share ?? -1, amperes ?? -1]; };
    let best = ids[0], top = rank(ids[0]);
    for (const id of ids.slice(1)) { const r = rank(id); if (r[0] > top[0] || (r[0] === top[0] && r[1] > top[1])) { best = id; top = r; } }
    return best;
  }
  words(ids) {
    if (ids.length === 1) return inWords(ids[0]);
    const names = `${ids.slice(0, 6).map((id) => clip(id, 40)).join(", ")}${ids.length > 6 ? ", …" : ""}`;
    return `${ids.length} together (${names}). The worst of them is ${inWords(this.worst(ids))}`;
  }

  /** Widths, colours and words for what is picked. */
  paint() {
    const picture = this, way = this.fault?.way, lit = way && this.lit(way);
    this.svg.classed("faulted", Boolean(this.fault));
    this.svg.selectAll("g.link").each(function (link) {
      const g = d3.select(this);
      if (!link.ids.length) {
        g.select("path.wire").attr("class", "wire u-lead").attr("stroke-width", 1.2); g.select("path.halo").attr("stroke-width", 9);
        g.classed("on-way", Boolean(lit) && lit.has(link.a) && lit.has(link.b));
        return;
      }
      const worst = picture.worst(link.ids), { share, peak } = drawn(rowOf(worst));
      const amperes = link.ids.map((id) => drawn(rowOf(id)).amperes).filter(known);
      const total = picked.show === "load" ? d3.sum(amperes) : d3.max(amperes) ?? 0;
      const width = 1.6 + Math.min(9, 1.3 * Math.sqrt(total));
      g.select("path.wire").attr("class", `wire ${useClass(share, rowOf(worst))}`).attr("stroke-width", width);
      g.select("path.halo").attr("stroke-width", width + 8);
      const grave = gravest(link.ids);
      g.select(".name .label").text(linkTitle(link.ids));
      g.select(".name .badge").attr("class", `badge ${grave ? grave[0] : ""}`).text(grave ? ` ${grave[1]}` : "");
      g.select(".name").attr("dy", -width / 2); g.select(".value").attr("dy", width / 2);
      g.select(".value").text(drawn(rowOf(worst)).words ?? `${drawn(rowOf(worst)).byFault ? BY_FAULT : ""}${numberWords(total, share, peak, amperes.length)}`);
      picture.state(g, link.ids, way);
    });
    this.svg.selectAll("g.box").each(function ({ ids, node }) {
      const g = d3.select(this), worst = picture.worst(ids), row = rowOf(worst), { amperes, share, peak } = drawn(row), grave = gravest(ids);
      const idle = row && notActive(row);
      g.select(".value").text(idle ? "not active" : row && drawn(row).words ? drawn(row).words : node.kind === "load" && picked.show === "load" && row ? `${known(amperes) ? `${fig(amperes)} A` : "not known"}${known(row.voltage_v) ? ` · ${fig(row.voltage_v)} V` : ""}` : `${drawn(row).byFault ? BY_FAULT : ""}${numberWords(amperes, share, peak, known(amperes))}`);
      g.select(".badge").attr("class", `badge ${grave ? grave[0] : ""}`).text(grave ? ` ${grave[1]}` : "");
      g.select("rect.frame").attr("class", `frame ${known(share) ? useClass(share, row) : ""}`);
      g.classed("idle", Boolean(idle));
      picture.state(g, ids, way);
    });
    this.svg.selectAll("g.unfold").each(function ({ hidden }) {
      const row = rowOf(picture.worst([...hidden.ids])), { share } = drawn(row);
      d3.select(this).select("rect").attr("class", known(share) ? useClass(share, row) : "");
      d3.select(this).select("text").text(`+ ${hidden.count} more${known(share) ? ` · ${ofAllowed(share)}` : ""}`);
    });
    this.paintFault();
  }
  /** Boxes and joints that the fault current passes: a joint is one where two of its neighbours are. */
  lit(way) {
    const lit = new Set();
    for (const { model } of this.lanes) {
      for (const node of model.nodes.values()) if ([...node.ids].some((id) => way.has(id))) lit.add(node.key);
      const met = new Map();
      const meet = (joint) => { if (model.nodes.get(joint).kind === "joint") met.set(joint, (met.get(joint) || 0) + 1); };
      for (const { a, b, ids } of model.links) {
        if (ids.length ? ids.some((id) => way.has(id)) : lit.has(a)) meet(b);
        if (ids.length ? ids.some((id) => way.has(id)) : lit.has(b)) meet(a);
      }
      for (const [joint, times] of met) if (times > 1) lit.add(joint);
    }
    return lit;
  }
  state(g, ids, way) {
    g.attr("aria-label", clip(this.words(ids), 900))
      .classed("marked", ids.some((id) => this.marked.has(id)))
      .classed("on-way", Boolean(way) && ids.some((id) => way.has(id)))
      .classed("off-way", Boolean(way) && !ids.some((id) => way.has(id)));
  }
  /** The signs of the fault shown: where it is, what holds it, what it hurts most. */
  paintFault() {
    this.svg.selectAll("g.sign").remove();
    if (!this.fault) return;
    const signs = new Map(); // one sign for all that is to say of a box or of a place on a wire
    const put = (id, share, words, kind) => {
      const host = this.spots.get(id)?.node ?? this.joints.get(id);
      if (!host) return;
      const key = `${this.numberOf(host)} ${host.querySelector("path.wire") ? share.toFixed(1) : ""}`;
      if (!signs.has(key)) signs.set(key, { host, share, kind, words: [] });
      if (!signs.get(key).words.includes(words)) signs.get(key).words.push(words);
    };
    for (const { id, share } of this.fault.at) put(id, share, "✸ fault", "burns");
    for (const { id, share } of this.fault.to) put(id, share, "✸ to here", "burns");
    if (this.fault.worst) put(this.fault.worst, 0.5, "worst", "worst");
    if (this.fault.held) put(this.fault.held, 0.5, "holds", "holds");
    for (const { host, share, kind, words } of signs.values()) {
      const wire = host.querySelector("path.wire");
      const at = wire ? wire.getPointAtLength(wire.getTotalLength() * Math.max(0.1, Math.min(0.9, share))) : { x: 0, y: host.classList.contains("box") ? -BOX_HEIGHT / 2 - 6 : -12 };
      const sign = d3.select(host).append("g").attr("class", `sign ${kind}`).attr("transform", `translate(${at.x},${at.y})`).attr("aria-hidden", "true");
      const text = sign.append("text").attr("text-anchor", "middle").attr("y", 3.5).text(words.join(" · "));
      const width = text.node().getBBox().width + 8;
      sign.insert("rect", "text").attr("x", -width / 2).attr("y", -7).attr("width", width).attr("height", 14).attr("rx", 3);
      host.parentNode.append(host); // signs lie above their neighbours
    }
  }
  numberOf(node) { this.numbered ??= new Map(); if (!this.numbered.has(node)) this.numbered.set(node, this.numbered.size); return this.numbered.get(node); }

  /** Marks a part and brings it into view; opens what is folded above it. Whether it is in the picture. */
  show(id) {
    if (this.spots.has(id) && !this.spots.get(id).node) { this.wanted.add(id); this.build(); }
    const node = this.spots.get(id)?.node;
    if (!node) return false;
    this.marked = new Set([id]); this.paint(); this.rove(node);
    node.scrollIntoView({ block: "center", inline: "center" });
    node.focus({ preventScroll: true });
    return true;
  }
  has(id) { return this.spots.has(id); }

  /** As wide as the room, though no smaller than `least`; the rest scrolls. Or the whole picture in the window. */
  fit(whole, least = SMALLEST_SCALE) {
    const canvas = this.svg.node().parentNode, room = canvas.clientWidth - 2;
    if (room <= 0) return;
    const wide = room / this.extent[0];
    this.resize(whole ? Math.min(wide, (window.innerHeight * 0.8) / this.extent[1], LARGEST_SCALE) : Math.max(least, Math.min(wide, LARGEST_SCALE)));
    const more = document.getElementById("picture-more");
    if (more) more.hidden = this.extent[0] * this.scale <= room + 1;
  }
  by(factor) { this.resize(Math.max(0.1, Math.min(4, this.scale * factor))); }
  resize(scale) {
    this.scale = scale;
    this.svg.attr("width", this.extent[0] * scale).attr("height", this.extent[1] * scale);
  }
  /** Copies of the lanes for the printer, each as wide as the sheet. */
  print(host) {
    host.textContent = "";
    const widest = Math.max(...this.lanes.map((lane) => lane.width)); // all lanes in one scale
    for (const { group, width, height } of this.lanes) {
      const svg = host.appendChild(document.createElementNS("http://www.w3.org/2000/svg", "svg"));
      svg.setAttribute("viewBox", `0 0 ${width} ${height}`); svg.setAttribute("class", "harness"); svg.style.maxWidth = `${width}px`; svg.style.width = `${100 * width / widest}%`; svg.setAttribute("aria-hidden", "true");
      const copy = group.cloneNode(true); copy.removeAttribute("transform");
      for (const g of copy.querySelectorAll("[tabindex]")) for (const name of ["tabindex", "role", "aria-label"]) g.removeAttribute(name);
      svg.append(copy);
    }
  }
}
