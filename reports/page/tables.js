"use strict";
/* Tables that sort, filter, group and copy. Text is only ever set as text. */

const FIRST_ROWS = 250, TALL = 60, LONGEST_CELL = 4000;

function element(parent, tag, className, text) {
  const made = parent.appendChild(document.createElement(tag));
  if (className) made.className = className;
  if (text !== undefined) made.textContent = text;
  return made;
}

/** How a value is written, whole: for the filter and for copying. */
function cellText(value, unit) {
  if (unit === "yesno") return value === true ? "yes" : value === false ? "NO" : "not determined";
  if (value === null || value === undefined || value === "") return "–";
  if (unit === "least" || unit === "most") return end(value, unit === "least");
  if (unit === "A2s") return known(value) ? quantity(value, "A²s") : "–";
  if (unit === "share") return fig(100 * value); // the heading has the %
  if (Array.isArray(value)) return value.length ? value.join(", ") : "–";
  if (typeof value === "number") return unit === "count" ? String(value) : unit === "cm" ? value.toFixed(2) : fig(value);
  return String(value);
}
const isNumber = (unit) => !["stands", "words", "words-short", "id", "list", "names", "text", "A2s", "grade", "yesno", "short"].includes(unit);
const BAD_STANDS = new Set(["too low", "too high", "no range", "over its limit"]); // where a setting stands in its range
const isMissing = (v) => v === null || v === undefined || v === "" || (Array.isArray(v) && !v.length);
const SIGNS = { error: "✕", warning: "!", note: "i" };

/** A text as the filter sees it: small letters, plain digits, one kind of space, so that “1.5 MM2” finds 1.5 mm². */
const folded = (text) => text.normalize("NFKC").toLowerCase().replace(/\s+/g, " ").trim();

/** A cell of a spreadsheet must not take a text for a formula. */
function safeForSheet(text) { return text.replace(/[\t\r\n]+/g, " ").replace(/^([=+@|%-])/, "'$1"); }

/** The part whose row a cell leads to: `jump` says it where the cell does not bear its id alone. */
const goal = (column, row) => (typeof column.jump === "function" ? column.jump(row) : column.value(row));

class Table {
  /** `columns()` gives the columns for what is picked: {title, value, unit, order, jump, optional, screen: not on paper, below}.
   * Sentences marked `below` stand in a line of their own under the row, so that they neither widen the table nor heighten its cells. */
  constructor(host, { name, title, rows, columns, note, open, group, paper }) {
    Object.assign(this, { name, title, rows, columns, note, group, paper }); // paper: [which rows are printed, in words]
    this.sort = null; this.down = false; this.filter = ""; this.from = 0; this.limit = FIRST_ROWS; this.grouped = Boolean(group); this.unfolded = new Set();
    this.box = element(host, "details", "table"); this.box.id = name;
    const summary = element(this.box, "summary");
    element(summary, "h2", "", title); element(summary, "span", "many", plural(rows.length, "row"));
    this.box.addEventListener("toggle", () => { if (this.box.open) this.draw(); });
    if (open) { this.box.open = true; this.draw(); }
  }

  draw() {
    if (this.body) return;
    if (this.note) element(this.box, "p", "hint", this.note);
    const tools = element(this.box, "div", "bar tools");
    const label = element(tools, "label", "", "Rows that contain ");
    this.input = element(label, "input"); this.input.type = "search"; this.input.placeholder = "any words"; this.input.name = `filter-${this.name}`;
    this.input.addEventListener("input", () => { this.filter = this.input.value; this.from = 0; this.limit = FIRST_ROWS; this.fill(); });
    const copy = element(tools, "button", "", "Copy table"); copy.type = "button";
    copy.addEventListener("click", () => this.copy());
    if (this.group) {
      const choice = element(tools, "label"), tick = element(choice, "input"); tick.type = "checkbox"; tick.checked = this.grouped;
      choice.append(` ${this.group.words}`);
      tick.addEventListener("change", () => { this.grouped = tick.checked; this.fill(); });
    }
    this.status = element(tools, "span", "hint"); this.status.setAttribute("role", "status");
    this.sideways = element(this.box, "p", "hint sideways", "This table is wider than the window: scroll it to the right for more columns."); this.sideways.hidden = true;
    this.onwards = element(this.box, "p", "hint sideways", "More rows than are shown: scroll inside the table, down to its end."); this.onwards.hidden = true;
    const wrap = this.wrap = element(this.box, "div", "table-wrap"); wrap.tabIndex = 0; wrap.addEventListener("scroll", () => this.measure(), { passive: true }); wrap.setAttribute("role", "region"); wrap.setAttribute("aria-label", `${this.title}, table`);
    this.table = element(wrap, "table");
    element(this.table, "caption", "unseen", `${this.title}. The headings sort.`);
    this.head = element(this.table, "thead");
    this.body = element(this.table, "tbody");
    this.heads(); this.fill();
  }
  /** Says whether the table goes on to the right, and how much room the lines below the rows have. */
  measure() {
    if (!this.wrap || !this.box.open) return;
    const { scrollWidth, clientWidth, scrollLeft } = this.wrap;
    if (!clientWidth) return;
    this.wrap.style.setProperty("--room", `${clientWidth - 20}px`);
    this.sideways.hidden = scrollWidth <= clientWidth + 1;
    // Only a table of many rows scrolls inside itself, with its headings in sight; any other is shown to its end.
    this.wrap.classList.toggle("tall", this.body.rows.length > TALL);
    this.onwards.hidden = this.wrap.scrollHeight <= this.wrap.clientHeight + 1;
    this.wrap.classList.toggle("more-right", scrollLeft + clientWidth < scrollWidth - 2);
  }

  /** The headings; columns that hold nothing at all are left out where they may be. */
  heads() {
    this.shownColumns = this.columns().filter((c) => !c.optional || this.rows.some((row) => !isMissing(c.value(row)) && c.value(row) !== c.plain));
    for (const column of this.shownColumns) if (isNumber(column.unit)) column.decimals = Math.max(0, ...this.rows.map((row) => { const text = cellText(column.value(row), column.unit); const at = text.indexOf(decimalSign); return at < 0 || text.includes("e") ? 0 : text.length - at - 1; }));
    this.head.textContent = "";
    this.inRow = this.shownColumns.filter((c) => !c.below);
    const tr = element(this.head, "tr");
    for (const column of this.inRow) {
      const th = element(tr, "th", isNumber(column.unit) ? "number" : ""); th.scope = "col";
      if (column.screen) th.classList.add("screen-only");
      const sorted = this.sort === column.title;
      if (sorted) th.setAttribute("aria-sort", this.down ? "descending" : "ascending");
      const button = element(th, "button", "", column.title); button.type = "button";
      const sign = element(button, "span", "arrow", sorted ? (this.down ? " ▼" : " ▲") : ""); sign.setAttribute("aria-hidden", "true");
      button.addEventListener("click", () => {
        if (this.sort !== column.title) { this.sort = column.title; this.down = false; } else if (!this.down) this.down = true; else this.sort = null;
        this.from = 0; this.limit = FIRST_ROWS; this.heads(); this.fill();
        [...this.head.querySelectorAll("button")].find((b) => b.firstChild.textContent === column.title).focus();
      });
    }
  }

  /** Rows with the words wanted in one cell; where no row has them so, those that have each word in some cell. */
  found(wanted) {
    if (!wanted) return [...this.rows];
    const texts = this.rows.map((row) => this.shownColumns.map((c) => folded(cellText(c.value(row), c.unit)))), words = wanted.split(" ");
    const together = this.rows.filter((_, n) => texts[n].some((text) => text.includes(wanted)));
    return together.length ? together : this.rows.filter((_, n) => words.every((word) => texts[n].some((text) => text.includes(word))));
  }
  /** Rows that pass the filter, in order. */
  list() {
    let list = this.found(folded(this.filter));
    if (this.onPaper) list = list.filter((row) => this.onPaper.has(row));
    const column = this.shownColumns.find((c) => c.title === this.sort);
    if (column) {
      const order = column.order || column.value, words = new Intl.Collator(undefined, { numeric: true });
      list = list.map((row) => [order(row), row]).sort(([a], [b]) => {
        if (isMissing(a) || isMissing(b)) return isMissing(a) - isMissing(b);
        const sign = typeof a === "number" && typeof b === "number" ? a - b : words.compare(String(a), String(b));
        return this.down ? -sign : sign;
      }).map(([, row]) => row);
    }
    return list;
  }

  fill() {
    const list = this.list();
    this.body.textContent = "";
    const grouped = this.grouped && !this.filter.trim() && !this.sort;
    if (grouped) this.fillGroups(list); else {
      const rest = list.length - this.from - this.limit;
      if (this.from > 0) this.more(`${this.from} rows before these. `, `Show ${Math.min(FIRST_ROWS, this.from)} before`, () => { const step = Math.min(FIRST_ROWS, this.from); this.from -= step; this.limit += step; return step; });
      for (const row of list.slice(this.from, this.from + this.limit)) this.row(row);
      if (!list.length) element(element(this.body, "tr"), "td", "more", "No row contains this.").colSpan = this.inRow.length;
      if (rest > 0) this.more(`${rest} of ${list.length} rows not shown. `, `Show ${Math.min(FIRST_ROWS, rest)} more`, () => { const at = this.limit; this.limit += FIRST_ROWS; return at; });
    }
    this.measure();
    this.status.textContent = this.filter.trim() ? `${list.length} of ${plural(this.rows.length, "row")}` : "";
  }
  more(words, action, act) {
    const td = element(element(this.body, "tr"), "td", "more"); td.colSpan = this.inRow.length;
    element(td, "span", "", words);
    const button = element(td, "button", "", action); button.type = "button";
    button.addEventListener("click", () => { const at = act(); this.fill(); this.body.querySelectorAll("tr:not(.below)")[at]?.focus(); });
  }
  /** One row of each group stands for it; the others follow when asked for. */
  fillGroups(list) {
    const groups = new Map();
    for (const row of list) { const key = this.group.by(row); if (!groups.has(key)) groups.set(key, []); groups.get(key).push(row); }
    for (const [key, rows] of groups) {
      const sorted = [...rows].sort((x, y) => this.group.weight(y) - this.group.weight(x));
      const openNow = this.unfolded.has(key);
      this.row(sorted[0]).classList.add("group");
      if (rows.length === 1) continue;
      if (openNow) for (const row of sorted.slice(1)) this.row(row);
      const td = element(element(this.body, "tr", "more"), "td", "more"); td.colSpan = this.inRow.length;
      const button = element(td, "button", "plain", openNow ? `Show only the worst of these ${rows.length}` : `and ${rows.length - 1} more of ${this.group.name(sorted[0])}: ${clip(sorted.slice(1).map((row) => clipMiddle(subjectName(String(row.subject)), 24)).join(", "), 120)}`);
      button.type = "button"; button.setAttribute("aria-expanded", openNow); button.dataset.group = key;
      button.addEventListener("click", () => { if (openNow) this.unfolded.delete(key); else this.unfolded.add(key); this.fill(); this.body.querySelector(`[data-group="${CSS.escape(key)}"]`).focus(); });
    }
  }

  row(row) {
    const tr = element(this.body, "tr");
    if (row.id) tr.dataset.id = row.id;
    tr.tabIndex = -1;
    this.inRow.forEach((column, n) => {
      const value = column.value(row), text = cellText(value, column.unit);
      const cell = element(tr, n === 0 ? "th" : "td", isNumber(column.unit) ? "number" : column.unit === "list" && text === "–" ? "text" : column.unit);
      if (n === 0) cell.scope = "row"; else cell.dataset.label = column.title;
      if (text === "–") cell.classList.add("nothing");
      if (column.unit === "grade") { cell.className = `grade-${value}`; cell.textContent = `${SIGNS[value] || ""} ${value}`; } else if (column.unit === "stands" && BAD_STANDS.has(value)) { cell.className = "grade-error"; cell.textContent = `✕ ${value}`; } else if (column.unit === "yesno" && value === false) { cell.className = "grade-error"; cell.textContent = "✕ NO"; } else if (column.unit === "share" && isOver(value)) { this.aligned(cell, text, column); cell.classList.add("grade-error"); } else if (isNumber(column.unit)) this.aligned(cell, text, column);
      else if (column.jump && rowsById.has(goal(column, row))) this.link(cell, value, () => jumpTo(goal(column, row)), "go to its row");
      else if (column.unit === "id" && this.shows?.(row.id) && value === row.id) this.link(cell, value, () => this.reach(row.id), "show it in the picture");
      else cell.textContent = text.length > LONGEST_CELL ? `${text.slice(0, LONGEST_CELL)}… (${text.length} characters)` : text;
      if (column.screen) cell.classList.add("screen-only");
    });
    this.below(row, tr);
    return tr;
  }
  /** The sentences on a row, in a line across the table. */
  below(row, above) {
    const said = this.shownColumns.filter((c) => c.below && !isMissing(c.value(row)));
    if (!said.length) return;
    above.classList.add("has-below");
    const tr = element(this.body, "tr", "below"), td = element(tr, "td"), line = element(td, "div", "said");
    td.colSpan = this.inRow.length;
    for (const column of said) {
      const text = cellText(column.value(row), column.unit), part = element(line, "span", column.screen ? "screen-only" : "");
      element(part, "b", "", column.title); part.append(` ${text.length > LONGEST_CELL ? `${text.slice(0, LONGEST_CELL)}… (${text.length} characters)` : text} `);
    }
    if (said.every((c) => c.screen)) tr.classList.add("screen-only");
  }
  link(cell, id, act, words) {
    const button = element(cell, "button", "plain", clipMiddle(id, 48)); button.type = "button"; button.title = words;
    button.addEventListener("click", act);
  }
  /** Decimal signs under each other. */
  aligned(cell, text, column) {
    const at = text.indexOf(decimalSign);
    cell.append(at < 0 ? text : text.slice(0, at));
    if (column.decimals) element(cell, "span", "rest", at < 0 ? "" : text.slice(at)).style.width = `${column.decimals + 0.6}ch`;
  }

  copy() {
    const list = this.list(), button = this.box.querySelector(".tools button");
    const lines = [this.shownColumns.map((c) => c.title), ...list.map((row) => this.shownColumns.map((c) => safeForSheet(cellText(c.value(row), c.unit))))];
    copyText(lines.map((cells) => cells.join("\t")).join("\n")).then((done) => { this.status.textContent = done ? `Copied ${plural(list.length, "row")}.` : "Could not copy."; button.focus(); });
  }

  /** The row of a part, drawn and unfiltered. */
  reveal(id) {
    this.box.open = true; this.draw();
    if (this.filter) { this.filter = ""; this.input.value = ""; this.fill(); }
    const find = () => this.body.querySelector(`tr[data-id="${CSS.escape(id)}"]`);
    if (!find()) { const at = this.list().findIndex((row) => row.id === id); if (at >= 0) { this.from = Math.max(0, at - 20); this.limit = FIRST_ROWS; this.fill(); } }
    return find();
  }
  /** Again, for other cases. */
  redraw() { this.onPaper = null; this.said?.remove(); if (this.body) { this.heads(); this.fill(); } }
  /** Everything open, for the printer; groups unfolded. Of long lists only the rows that say something. */
  forPrint() {
    const chosen = this.paper ? this.rows.filter(this.paper[0]) : this.rows;
    this.box.classList.toggle("unprinted", !chosen.length);
    this.box.open = true; this.draw();
    if (chosen.length < this.rows.length) {
      this.onPaper = new Set(chosen); this.fill();
      this.said = element(this.box, "p", "hint", `${chosen.length} of ${plural(this.rows.length, "row")} printed: ${this.paper[1]}.`);
      this.box.insertBefore(this.said, this.wrap);
    }
    [...this.head.rows[0].cells].forEach((th, n) => { th.textContent = this.inRow[n].title; }); // buttons are not repeated on the next sheet
    if (!this.group) return;
    for (const row of this.rows) this.unfolded.add(this.group.by(row));
    this.fill();
  }
}

async function copyText(text) {
  try { await navigator.clipboard.writeText(text); return true; } catch { /* a page opened from a file may not be allowed to */ }
  const area = document.body.appendChild(document.createElement("textarea"));
  area.value = text; area.setAttribute("aria-label", "text to copy"); area.select();
  const done = document.execCommand("copy");
  area.remove();
  return done;
}
