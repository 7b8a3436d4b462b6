"use strict";
/* Tables that sort, filter and copy. Text is only ever set as text. */

const FIRST_ROWS = 250;

/** A column: heading, the value of a row, and how it is shown ("A", "V", "share", "words", "id", "list", ...). */
function cellText(value, unit) {
  if (value === null || value === undefined || value === "") return "–";
  if (unit === "share") return percent(value);
  if (unit === "yesno") return value === true ? "yes" : value === false ? "NO" : "can't be said";
  if (Array.isArray(value)) return value.length ? value.join(", ") : "–";
  if (typeof value === "number") return fig(value);
  return String(value);
}
const isNumber = (unit) => !["words", "id", "list", "text", "grade", "yesno"].includes(unit);

function buildTable(host, { name, title, rows, columns, note, open }) {
  const details = document.createElement("details");
  details.className = "table"; details.id = name; details.open = Boolean(open);
  const summary = details.appendChild(document.createElement("summary"));
  summary.textContent = title;
  const many = summary.appendChild(document.createElement("span"));
  many.className = "many"; many.textContent = rows.length === 1 ? "1 row" : `${rows.length} rows`;
  host.appendChild(details);
  const state = { rows: [...rows], sort: -1, down: false, filter: "", all: rows.length <= FIRST_ROWS };
  let body = null;

  const shown = () => {
    const wanted = state.filter.toLowerCase();
    let list = state.rows.filter((row) => !wanted || columns.some((c) => cellText(c.value(row), c.unit).toLowerCase().includes(wanted)));
    if (state.sort >= 0) {
      const column = columns[state.sort];
      const order = column.order || column.value;
      list = [...list].sort((x, y) => {
        const a = order(x), b = order(y);
        const missing = (v) => v === null || v === undefined || v === "" || (Array.isArray(v) && !v.length);
        if (missing(a) || missing(b)) return missing(a) - missing(b);
        const sign = typeof a === "number" && typeof b === "number" ? a - b : String(a).localeCompare(String(b), undefined, { numeric: true });
        return state.down ? -sign : sign;
      });
    }
    return list;
  };
  const fill = () => {
    body.textContent = "";
    const list = shown();
    for (const row of state.all ? list : list.slice(0, FIRST_ROWS)) {
      const tr = body.appendChild(document.createElement("tr"));
      if (row.id) { tr.dataset.id = row.id; tr.tabIndex = -1; }
      for (const column of columns) {
        const td = tr.appendChild(document.createElement("td"));
        td.className = isNumber(column.unit) ? "number" : column.unit === "words" ? "words" : column.unit === "id" ? "id" : "";
        const value = column.value(row);
        if (column.unit === "grade") td.className = `grade-${value}`;
        if (column.jump && value && rowsById.has(value)) {
          const link = td.appendChild(document.createElement("a"));
          link.href = `#row-${encodeURIComponent(value)}`; link.textContent = value;
          link.addEventListener("click", (event) => { event.preventDefault(); jumpTo(value); });
        } else td.textContent = cellText(value, column.unit);
      }
    }
    if (!state.all && list.length > FIRST_ROWS) {
      const td = body.appendChild(document.createElement("tr")).appendChild(document.createElement("td"));
      td.colSpan = columns.length;
      const more = td.appendChild(document.createElement("button"));
      more.textContent = `Show all ${list.length} rows`;
      more.addEventListener("click", () => { state.all = true; fill(); });
    }
  };
  const draw = () => {
    if (body) return;
    if (note) { const p = details.appendChild(document.createElement("p")); p.className = "hint"; p.textContent = note; }
    const tools = details.appendChild(document.createElement("div")); tools.className = "bar tools";
    const label = tools.appendChild(document.createElement("label")); label.textContent = "Filter ";
    const input = label.appendChild(document.createElement("input")); input.type = "search"; input.name = `filter-${name}`;
    input.addEventListener("input", () => { state.filter = input.value; fill(); });
    const copy = tools.appendChild(document.createElement("button")); copy.textContent = "Copy table";
    copy.addEventListener("click", () => {
      const lines = [columns.map((c) => c.title).join("\t"), ...shown().map((row) => columns.map((c) => cellText(c.value(row), c.unit).replace(/[\t\r\n]+/g, " ").replace(/^([=+@-])/, "'$1")).join("\t"))];
      copyText(lines.join("\n")).then((done) => { copy.textContent = done ? `Copied ${lines.length - 1} rows` : "Could not copy"; setTimeout(() => { copy.textContent = "Copy table"; }, 1800); });
    });
    const wrap = details.appendChild(document.createElement("div")); wrap.className = "table-wrap"; wrap.tabIndex = 0; wrap.setAttribute("role", "region"); wrap.setAttribute("aria-label", title);
    const table = wrap.appendChild(document.createElement("table"));
    const head = table.appendChild(document.createElement("thead")).appendChild(document.createElement("tr"));
    columns.forEach((column, n) => {
      const th = head.appendChild(document.createElement("th")); th.scope = "col"; if (isNumber(column.unit)) th.className = "number";
      const button = th.appendChild(document.createElement("button")); button.textContent = column.title;
      button.addEventListener("click", () => {
        state.down = state.sort === n ? !state.down : false; state.sort = n;
        for (const other of head.children) other.removeAttribute("aria-sort");
        th.setAttribute("aria-sort", state.down ? "descending" : "ascending");
        for (const other of head.querySelectorAll("button")) other.textContent = other.textContent.replace(/ [▲▼]$/, "");
        button.textContent = `${column.title} ${state.down ? "▼" : "▲"}`;
        fill();
      });
    });
    body = table.appendChild(document.createElement("tbody"));
    fill();
  };
  details.addEventListener("toggle", () => { if (details.open) draw(); });
  if (open) draw();
  details.reveal = (id) => {
    details.open = true; draw();
    state.filter = ""; const search = details.querySelector("input"); if (search) search.value = "";
    if (!body.querySelector(`tr[data-id="${CSS.escape(id)}"]`)) { state.all = true; fill(); }
    return body.querySelector(`tr[data-id="${CSS.escape(id)}"]`);
  };
  details.drawAll = () => { details.open = true; draw(); };
  return details;
}

async function copyText(text) {
  try { await navigator.clipboard.writeText(text); return true; } catch { /* a page opened from a file may not be allowed to */ }
  const area = document.body.appendChild(document.createElement("textarea"));
  area.value = text; area.select();
  const done = document.execCommand("copy");
  area.remove();
  return done;
}
