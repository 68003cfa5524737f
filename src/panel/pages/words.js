// Shared by the pages: elements whose text is never taken as markup, and lengths and times in words.

export function element(tag, attributes = {}, ...children) {
  const e = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes))
    if (value !== false && value !== null && value !== undefined) e.setAttribute(name, value === true ? "" : value);
  e.append(...children.filter((c) => c !== null && c !== undefined));
  return e;
}

// Lengths are written as on the command line: with 0.001 mm, or 0.0001 in.
export function length(um, unit) {
  if (um === null || um === undefined) return "";
  return unit === "in" ? `${(um / 25400).toFixed(4)} in` : `${(um / 1000).toFixed(3)} mm`;
}

export function seconds(s) {
  s = Math.max(0, Math.round(s));
  const two = (n) => String(n).padStart(2, "0");
  const hours = Math.floor(s / 3600), minutes = Math.floor(s / 60) % 60;
  return hours > 0 ? `${hours}:${two(minutes)}:${two(s % 60)}` : `${minutes}:${two(s % 60)}`;
}

export const milliseconds = (ms) => seconds(ms / 1000);

export function pairs(rows) {
  const list = element("dl");
  for (const [name, value] of rows.filter((row) => row !== null))
    list.append(element("dt", {}, name), element("dd", {}, value));
  return list;
}

export function orders(o) {
  const parts = [o.in_force ? `${o.in_force} in force, ${o.verified ? "verified" : "not verified"}` : "none in force"];
  parts.push(o.staged ? `${o.staged} staged` : "none staged");
  if (o.queue.length > 0) parts.push(`then ${o.queue.join(", ")}`);
  return parts.join("; ");
}

// Adjacent slits of equal width are combined: "4 x 240.000 mm".
export function slit_words(cuts, unit) {
  const runs = [];
  for (const slit of cuts.slits) {
    const width = slit.to_um - slit.from_um, run = runs.at(-1);
    if (run && Math.abs(run.width - width) < 2) run.n++;
    else runs.push({ n: 1, width });
  }
  return runs.map((run) => `${run.n > 1 ? `${run.n} x ` : ""}${length(run.width, unit)}`).join(", ");
}

export function web_words(cuts, unit) {
  const trim = (um, side) => (um > 0 ? `${side} trim ${length(um, unit)}` : `no ${side} trim`);
  return [`${length(cuts.web_drive_um - cuts.web_operator_um, unit)} wide`, trim(cuts.trim_operator_um, "operator-side"),
    trim(cuts.trim_drive_um, "drive-side")].join(", ");
}

// Each column has a name, the holder's value to sort by, this value as text, and whether it is aligned left.
export const holder_columns = [
  ["holder", (h) => h.number, String, false],
  ["cut", (h) => h.cut || Infinity, (v) => (v === Infinity ? "idle" : String(v)), false],
  ["size", (h) => h.size, (v, s) => s.sizes.find((size) => size.number === v)?.name ?? String(v), true],
  ["state", (h) => h.state.word, String, true],
  ["known", (h) => h.known.word, String, true],
  ["position", (h) => h.position_um, (v, s) => length(v, s.length_unit), false],
  ["target", (h) => h.target_um, (v, s) => length(v, s.length_unit), false],
  ["deviation", (h) => h.deviation_um, (v, s) => length(v, s.length_unit), false],
  ["edge offset", (h) => h.offset_um, (v, s) => length(v, s.length_unit), false],
  ["metres", (h) => h.metres, String, false],
];

export function holder_row(h, s) {
  return element("tr", { "data-holder": h.number },
    ...holder_columns.map(([, value, text, left]) => element("td", { class: left ? "text" : "" }, text(value(h), s))));
}

export function carriage(rail, unit) {
  const c = rail.carriage, at = c.position_um === null ? "" : `at ${length(c.position_um, unit)}, `;
  const parts = [`${at}${c.phase.text}`];
  if (c.docked === 65535) parts.push("its pin is not proven out");
  else if (c.docked) parts.push(`docked to holder ${c.docked}`);
  parts.push(`${c.moves_done} of ${c.moves_planned} moves`);
  if (!c.link) parts.push("THE DRIVE DOES NOT ANSWER");
  if (c.limits.length) parts.push(`AT ITS LIMIT SWITCH: ${c.limits.join(", ")}`);
  if (!c.referenced) parts.push("no datum");
  return parts.join("; ");
}

// The reference flags on the frame, by which scans see whether the rail is off; empty for a rail without them.
export function references(rail, unit) {
  const lost = rail.references.filter((r) => !r.found), places = lost.map((r) => length(r.place_um, unit));
  if (rail.references.length === 0) return "";
  const found = `${rail.references.length - lost.length} of ${rail.references.length}`;
  return `References on the frame: the last scan that counted found ${found}` +
    (lost.length ? `; NOT FOUND: ${places.join(", ")}` : "");
}
