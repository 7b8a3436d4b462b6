"use strict";
/* The harness as a graph: what is joined with what, which copper is whose, what lies on a path. */

const FOLD_ABOVE = 260; // boxes and joints of one lane; more than that and what hangs behind a branch is folded

/** Outputs, loads and parts with the joints at their ends; laneOf says whose copper a joint is. */
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
  const find = (x) => {
    let top = x;
    while (parent.has(top)) top = parent.get(top);
    while (parent.has(x)) { const next = parent.get(x); parent.set(x, top); x = next; if (x === top) break; }
    return top;
  };
  for (const { a, b } of parts) { const x = find(a), y = find(b); if (x !== y) parent.set(x, y); }
  const plusPieces = new Set(outputs.map((o) => find(o.plus)));
  const minusPieces = new Set(outputs.map((o) => find(o.minus)));
  const laneOf = (joint) => (plusPieces.has(find(joint)) ? "out" : minusPieces.has(find(joint)) ? "back" : "loose");
  return { outputs, loads, parts, laneOf };
}

/** Boxes and links of one lane. Wires side by side share a link; contacts of one connector share a box. */
function laneModel(harness, lane) {
  const nodes = new Map(), wires = [];
  const bodyOf = new Map((results.contacts || []).map((c) => [c.id, c.connector]));
  const box = (key, kind, label, id, mark) => {
    if (!nodes.has(key)) nodes.set(key, { key, kind, label, ids: new Set(), mark: mark || "" });
    nodes.get(key).ids.add(id);
    return key;
  };
  for (const o of harness.outputs) for (const [joint, usual] of [[o.plus, "out"], [o.minus, "back"]]) {
    if (harness.laneOf(joint) === lane) wires.push({ a: box(`o ${o.id}`, "output", o.id, o.id, usual === lane ? "" : "in series"), b: joint, ids: [], lead: true });
  }
  for (const l of harness.loads) for (const [joint, usual] of [[l.plus, "out"], [l.minus, "back"]]) {
    const where = harness.laneOf(joint);
    if (where === lane) wires.push({ a: joint, b: box(`l ${l.id}`, "load", l.id, l.id, where === "loose" || usual === lane ? "" : "reversed"), ids: [], lead: true });
  }
  for (const p of harness.parts) {
    if (harness.laneOf(p.a) !== lane) continue;
    if (p.kind === "conductors") { wires.push({ a: p.a, b: p.b, ids: [p.id], lead: false }); continue; }
    const body = bodyOf.get(p.id);
    const key = p.kind === "contacts" ? box(`c ${body}`, "connector", body, p.id) : box(`d ${p.id}`, "device", p.id, p.id);
    wires.push({ a: p.a, b: key, ids: [], lead: true }, { a: key, b: p.b, ids: [], lead: true });
  }
  // A joint that touches one box only vanishes into that box (a load only where its path ends), and so does one
  // that lies between two boxes with no wire at it.
  const touch = new Map();
  for (const w of wires) for (const x of [w.a, w.b]) if (!nodes.has(x)) { if (!touch.has(x)) touch.set(x, []); touch.get(x).push(w); }
  const standIn = new Map();
  const root = (x) => { while (standIn.has(x)) x = standIn.get(x); return x; };
  const direct = [];
  for (const [joint, list] of touch) {
    const boxes = [...new Set(list.filter((w) => w.lead).map((w) => (nodes.has(w.a) ? w.a : w.b)))];
    const through = boxes.length === 1 && nodes.get(boxes[0]).kind === "load" && list.length > 2;
    if (boxes.length === 1 && !through) standIn.set(joint, boxes[0]);
    else if (boxes.length === 2 && list.every((w) => w.lead)) { standIn.set(joint, boxes[0]); direct.push({ a: boxes[0], b: boxes[1], ids: [], lead: true }); for (const w of list) w.gone = true; }
  }
  const links = new Map();
  for (const w of [...wires.filter((w) => !w.gone), ...direct]) {
    const a = root(w.a), b = root(w.b);
    if (a === b) { for (const id of w.ids) nodes.get(a)?.ids.add(id); continue; }
    for (const x of [a, b]) if (!nodes.has(x)) nodes.set(x, { key: x, kind: "joint", label: x, ids: new Set(), mark: "" });
    const key = a < b ? `${a}\n${b}` : `${b}\n${a}`;
    if (!links.has(key)) links.set(key, { a, b, ids: [] });
    links.get(key).ids.push(...w.ids);
  }
  // Spare contacts, at which nothing else is, would only fill the picture; the table has them.
  if (lane === "loose") {
    const joined = new Set([...links.values()].flatMap((l) => [l.a, l.b]));
    for (const node of [...nodes.values()]) if (node.kind === "connector" && !joined.has(node.key)) nodes.delete(node.key);
  }
  return { lane, nodes, links: [...links.values()], standIn, root, folded: new Map() };
}

/** Order outwards from the outputs, so that every link runs left to right. Breadth first: each link gets a direction. */
function orient(model) {
  const next = new Map([...model.nodes.keys()].map((key) => [key, []]));
  for (const link of model.links) { next.get(link.a).push(link.b); next.get(link.b).push(link.a); }
  const seen = new Map(), behind = new Map(), order = [];
  const visit = (key, from) => { if (seen.has(key)) return; seen.set(key, order.length); order.push(key); if (from !== undefined) behind.set(key, from); };
  let at = 0;
  const spread = () => { for (; at < order.length; at += 1) for (const key of next.get(order[at])) visit(key, order[at]); };
  for (const node of model.nodes.values()) if (node.kind === "output") visit(node.key);
  spread();
  for (const key of model.nodes.keys()) { visit(key); spread(); }
  for (const link of model.links) {
    // A load ends a way: whatever its place in the order, it stands at the right end of its links.
    const [a, b] = [model.nodes.get(link.a), model.nodes.get(link.b)];
    const wrong = (a.kind === "load") !== (b.kind === "load") ? a.kind === "load" : seen.get(link.a) > seen.get(link.b);
    if (wrong) [link.a, link.b] = [link.b, link.a];
  }
  return { behind, order };
}

/** Fold what hangs behind branches until few enough boxes are left.
    `opened`: how many more boxes a reader asked for behind a box; `wanted`: parts that must be seen. */
function fold(model, opened, wanted) {
  const { behind, order } = orient(model);
  if (model.nodes.size <= FOLD_ABOVE) return model;
  const must = new Set();
  const need = (key) => { for (let x = key; x !== undefined && !must.has(x); x = behind.get(x)) must.add(x); };
  for (const node of model.nodes.values()) if ([...node.ids].some((id) => wanted.has(id))) need(node.key);
  for (const link of model.links) if (link.ids.some((id) => wanted.has(id))) { need(link.a); need(link.b); }
  const kept = new Set(), standsFor = new Map(), left = new Map(opened);
  let room = FOLD_ABOVE;
  for (const key of order) {
    const host = behind.get(key), reached = host === undefined || kept.has(host);
    let keep = must.has(key) || (reached && room > 0);
    if (keep) room -= 1;
    else if (reached && left.get(host) > 0) { keep = true; left.set(host, left.get(host) - 1); }
    if (keep) kept.add(key);
    standsFor.set(key, keep ? key : host === undefined ? order[0] : standsFor.get(host));
  }
  for (const key of order) if (!kept.has(key)) {
    const host = standsFor.get(key);
    if (!model.folded.has(host)) model.folded.set(host, { count: 0, ids: new Set() });
    model.folded.get(host).count += 1;
    for (const id of model.nodes.get(key).ids) model.folded.get(host).ids.add(id);
  }
  for (const link of model.links) if (!kept.has(link.a) || !kept.has(link.b)) { const host = standsFor.get(link.b) ?? standsFor.get(link.a); if (model.folded.has(host)) for (const id of link.ids) model.folded.get(host).ids.add(id); }
  for (const key of order) if (!kept.has(key)) model.nodes.delete(key);
  model.links = model.links.filter((l) => model.nodes.has(l.a) && model.nodes.has(l.b));
  return model;
}

/** A place of the results ("W7:0.50", "X1.3|X1.4", a joint, a load) as the parts it names and the share along them. */
function placeParts(place) {
  if (!place) return [];
  if (rowsById.has(place)) return [{ id: place, share: 0.5 }];
  const along = /^(.*):(\d\.\d+)$/s.exec(place);
  if (along && rowsById.has(along[1])) return [{ id: along[1], share: Number(along[2]) }];
  const parts = place.split("|").filter((id) => rowsById.has(id)).map((id) => ({ id, share: 0.5 }));
  return parts.length ? parts : [{ id: place, share: 0.5 }]; // a joint
}

/** Ids of all parts on any path from one joint to a place: the biconnected piece of the copper once both ends are joined. */
function waysBetween(harness, start, place) {
  const edges = harness.parts.map(({ id, a, b }) => ({ id, a, b }));
  const load = harness.loads.find((l) => l.id === place);
  let goal = load ? (harness.laneOf(load.plus) === harness.laneOf(start) ? load.plus : load.minus) : place;
  const [named] = placeParts(place);
  const at = edges.findIndex((e) => e.id === named?.id);
  if (!load && at >= 0) {
    const { id, a, b } = edges[at];
    goal = "\u0000place";
    edges.splice(at, 1, { id, a, b: goal }, { id, a: goal, b });
  }
  const next = new Map();
  const join = (x, y, n) => { if (!next.has(x)) next.set(x, []); next.get(x).push([y, n]); };
  edges.push({ id: null, a: start, b: goal });
  edges.forEach((e, n) => { join(e.a, e.b, n); if (e.a !== e.b) join(e.b, e.a, n); });
  if (!next.has(goal) || next.get(goal).length < 2 || start === goal) return new Set();
  const depth = new Map([[start, 0]]), low = new Map([[start, 0]]), pile = [], used = new Set();
  const walk = [{ x: start, at: 0 }];
  while (walk.length) { // depth first without recursion; edges wait on the pile until their piece is complete
    const top = walk[walk.length - 1], list = next.get(top.x);
    if (top.at < list.length) {
      const [y, n] = list[top.at++];
      if (used.has(n)) continue;
      used.add(n); pile.push(n);
      if (depth.has(y)) low.set(top.x, Math.min(low.get(top.x), depth.get(y)));
      else { depth.set(y, walk.length); low.set(y, walk.length); walk.push({ x: y, at: 0, by: n }); }
      continue;
    }
    walk.pop();
    const host = walk[walk.length - 1];
    if (!host) break;
    low.set(host.x, Math.min(low.get(host.x), low.get(top.x)));
    if (low.get(top.x) >= depth.get(host.x)) {
      const piece = [];
      for (let n; (n = pile.pop()) !== undefined;) { piece.push(n); if (n === top.by) break; }
      if (piece.includes(edges.length - 1)) return new Set(piece.map((n) => edges[n].id).filter((id) => id !== null));
    }
  }
  return new Set();
}
