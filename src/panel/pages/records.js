// Shows a station's past: changeovers, alarms by cause, and the placement errors of each holder over time.
import { element, length, milliseconds, pairs, seconds } from "/words.js";

const main = document.getElementById("main");
const number = Number(new URLSearchParams(location.search).get("station")) || 1;
const AGAIN_MS = 60000;
const WIDTH = 260, HEIGHT = 96, LEFT = 6, RIGHT = 254, TOP = 6, BOTTOM = 90; // of a chart

// "2026-03-01T06:30:00.125Z", or without a fraction, as people read it.
const time = (at) => `${at.slice(0, 10)} ${at.slice(11, 19)}`;
const count = (n) => (n === null ? "" : String(n));
const figure = (value) => (value === null ? "" : value.toFixed(2));

// columns: name, value as text, and whether it is aligned left.
function table(name, columns, rows) {
  const left = (of) => ({ class: of ? "text" : "" });
  return element("div", { class: "scroll" }, element("table", { "data-table": name },
    element("thead", {}, element("tr", {}, ...columns.map(([title, , of]) => element("th", left(of), title)))),
    element("tbody", {}, ...rows.map((row) =>
      element("tr", {}, ...columns.map(([, text, of]) => element("td", left(of), text(row))))))));
}

function changeovers(r) {
  const um = (name) => (row) => length(row[name], r.length_unit);
  const columns = [["ended (UTC)", (c) => time(c.ended_at), true], ["job", (c) => c.job ?? "", true],
    ["order", (c) => count(c.order_number)], ["how it ended", (c) => c.outcome, true],
    ["moves planned", (c) => milliseconds(c.planned_ms)], ["moves took", (c) => milliseconds(c.actual_ms)],
    ["in all", (c) => milliseconds(c.total_ms)], ["moves", (c) => count(c.moves)],
    ["corrections", (c) => count(c.corrections)], ["docking retries", (c) => count(c.docking_retries)],
    ["worst holder", um("worst_um")], ["worst pair", um("worst_pair_um")], ["worst slit", um("worst_slit_um")],
    ["what ended it", (c) => c.cause ?? "", true]];
  return element("section", { class: "wide", id: "changeovers" },
    element("h2", {}, `Changeovers: ${r.changeovers.length}, the newest first`),
    r.changeovers.length ? table("changeovers", columns, [...r.changeovers].reverse()) : null);
}

function alarms(r) {
  const where = (a) => (a.most_on_rail ? `rail ${a.most_on_rail}${a.item ? `, item ${a.item}` : ""}` : a.item ? `item ${a.item}` : "");
  const columns = [["alarm", (a) => `${a.code} ${a.alarm}`, true], ["reaction", (a) => a.reaction, true],
    ["raised", (a) => count(a.raised)], ["stood in all", (a) => seconds(a.stood_min * 60)],
    ["most often on", (a) => String(where(a)), true], ["times there", (a) => count(a.times_there)]];
  return element("section", { class: "wide", id: "causes" },
    element("h2", {}, r.alarms.length ? "Alarms by cause" : "Alarms by cause: none"),
    r.alarms.length ? table("alarms", columns, r.alarms) : null);
}

// ---- placement over time ------------------------------------------------------------------------------------------

const svg = document.getElementById("drawn").namespaceURI;

function drawn(tag, attributes, ...children) {
  const e = document.createElementNS(svg, tag);
  for (const [name, value] of Object.entries(attributes)) e.setAttribute(name, value);
  e.append(...children);
  return e;
}

// A cross is beyond the tolerance, a dot within it; a hollow dot was placed with an earlier knife.
function mark(x, y, off_um, tolerance_um, since, title) {
  const out = Math.abs(off_um) > tolerance_um;
  const shape = out ? { d: `M${x - 4} ${y - 4}L${x + 4} ${y + 4}M${x - 4} ${y + 4}L${x + 4} ${y - 4}`, class: "out" }
    : { d: `M${x - 2.5} ${y}a2.5 2.5 0 1 0 5 0a2.5 2.5 0 1 0 -5 0`, class: since ? "placed" : "placed before" };
  return drawn("path", shape, drawn("title", {}, title));
}

function chart(h, r) {
  const tolerance = r.tolerance_um, times = r.changeovers.map((c) => Date.parse(c.ended_at));
  const first = times[0], span = times.at(-1) - first;
  const most = Math.max(1.25 * tolerance, ...h.list.map(([, off]) => 1.08 * Math.abs(off)));
  const x = (i) => (span > 0 ? LEFT + ((RIGHT - LEFT) * (times[i] - first)) / span : (LEFT + RIGHT) / 2);
  const y = (off) => TOP + ((BOTTOM - TOP) * (most - off)) / (2 * most);
  const line = (off, name) => drawn("line", { x1: 0, x2: WIDTH, y1: y(off), y2: y(off), class: name });
  return drawn("svg", { viewBox: `0 0 ${WIDTH} ${HEIGHT}`, class: "placement", role: "img",
    "aria-label": "how far off it was placed, over time; the words below say the largest" },
  line(0, "zero"), line(tolerance, "limit"), line(-tolerance, "limit"),
  ...h.list.map(([i, off, since]) => mark(x(i), y(off), off, tolerance, since,
    `${time(r.changeovers[i].ended_at)}: ${length(off, r.length_unit)}`)));
}

function holder(h, r) {
  const offs = h.list.map(([, off]) => off), out = offs.filter((off) => Math.abs(off) > r.tolerance_um).length;
  const worst = offs.reduce((a, b) => (Math.abs(b) > Math.abs(a) ? b : a), 0);
  const words = [`${h.list.length} placements, the largest ${length(worst, r.length_unit)}`];
  if (h.cpk !== null) words.push(`cpk ${figure(h.cpk)} (${figure(h.cpk_low)} to ${figure(h.cpk_high)})`);
  if (h.caution) words.push("few: go by the interval");
  const warning = [out ? `${out} BEYOND THE TOLERANCE` : "", h.trend ? "IT DRIFTS" : ""].filter((w) => w).join(", ");
  return element("figure", { "data-holder": `${h.rail}/${h.holder}`, "data-offs": offs.join(" ") },
    element("figcaption", {}, element("strong", {}, `Rail ${h.rail}, holder ${h.holder}`),
      warning ? element("strong", { class: "warning" }, ` ${warning}`) : null),
    chart(h, r), element("p", { class: "quiet" }, words.join("; ")));
}

function holders(r) {
  const limit = length(r.tolerance_um, r.length_unit);
  return element("section", { class: "wide", id: "placements" },
    element("h2", {}, "Placement of each holder against its tolerance, over time"),
    element("p", { class: "quiet" }, `Dashed: the tolerance, ${limit} either way; up is towards the drive side. ` +
      `A dot is a placement, hollow with an earlier knife; a cross lies beyond the tolerance. From left to right: ` +
      `${time(r.changeovers[0]?.ended_at ?? "")} to ${time(r.changeovers.at(-1)?.ended_at ?? "")} UTC.`),
    element("div", { class: "figures" }, ...r.holders.filter((h) => h.list.length).map((h) => holder(h, r))));
}

// ---- the page -----------------------------------------------------------------------------------------------------

function head(r) {
  return element("section", { class: "wide", id: "head" }, element("h2", {}, `Records of ${r.station}`),
    pairs([["read from the book", `${time(r.made_at)} UTC`],
      ["tolerance", `${length(r.tolerance_um, r.length_unit)} either way`]]),
    r.sound ? null : element("p", { class: "warning" }, "THE BOOK HAS ROWS THAT ARE NOT WHAT WAS STORED: the file was " +
      "damaged or changed by hand. 'kniferail history' names them."),
    element("p", {}, element("a", { href: `/?station=${number}` }, "The station now")));
}

function show(r) {
  document.title = `Records of ${r.station}`;
  main.replaceChildren(head(r), changeovers(r), alarms(r), holders(r));
}

function none(reason) {
  main.replaceChildren(element("section", { class: "wide" }, element("p", { class: "lost" }, `NO RECORDS: ${reason}`),
    element("p", {}, element("a", { href: `/?station=${number}` }, "The station now"))));
}

let shown = ""; // the text that is shown: if it has not changed, the page keeps its scroll position

function ask() {
  fetch(`/api/v1/stations/${number}/records`).then(async (answer) => {
    const text = await answer.text();
    if (text !== shown && answer.ok) show(JSON.parse(text));
    if (text !== shown && !answer.ok) none(JSON.parse(text).error);
    shown = text;
    document.getElementById("clock").textContent = `asked at ${new Date().toLocaleTimeString()}`;
  }).catch((e) => { shown = ""; none(e.message); });
}

ask();
setInterval(ask, AGAIN_MS);
