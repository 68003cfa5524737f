// The page shows a list of stations, or one station, and is kept up to date by server-sent events. It only reads.
import { carriage, element, holder_columns, holder_row, length, milliseconds, orders, pairs, references, seconds, slit_words,
  web_words } from "/words.js";

// Without news for this time, the figures are marked as old. A station is read once in each period, and a reading takes
// up to two seconds until it fails, so a longer period makes the limit longer, too.
const STALE_MS = 3000, READING_MS = 2500;
const [main, lost, clock] = ["main", "lost", "clock"].map((id) => document.getElementById(id));
const number = Number(new URLSearchParams(location.search).get("station")) || 0;
const sorting = {}; // of each rail's table: [column, descending]
let heard_ms = performance.now(), stale_ms = STALE_MS, good_at = null, why = "";

function signal(bit, on, more = "") {
  return element("li", { class: `${on ? "on" : "off"} ${more}`, "data-name": bit.name },
    element("span", { class: "value" }, on ? "1" : "0"),
    element("span", {}, element("span", { class: "name" }, bit.name), ` ${bit.text}`));
}

// A limit of 0 means that there is none; a mask has none, either.
function figures(a, unit) {
  const text = (n) => (a.value_is === "length" ? length(n, unit)
    : a.value_is === "mask" ? `0x${n.toString(16)}` : String(n));
  if (a.value_is === "none") return null;
  return element("p", { class: "measure" }, `value ${text(a.value)}${a.limit ? `, limit ${text(a.limit)}` : ""}`);
}

function alarm(a, unit) {
  const where = a.rail ? `, rail ${a.rail}` : "", at = new Date(Date.now() - 1000 * a.age_s);
  const day = a.age_s > 43200 ? `${at.toLocaleDateString()} ` : ""; // half a day: else it is clear which
  const since = `${day}${at.toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" })}`;
  return element("div", { class: `alarm ${a.reaction}`, "data-code": a.code },
    element("p", { class: "head" },
      `Alarm ${a.code} ${a.name} (${a.reaction}), since ${since}, for ${seconds(a.age_s)}${where}`),
    element("p", {}, a.text), figures(a, unit), element("p", { class: "quiet" }, a.remedy));
}

function alarms(s) {
  const title = s.alarms.length ? `Alarms: ${s.alarms.length}, the first ones explain the later` : "Alarms: none";
  const all = element("section", { id: "alarms" }, element("h2", {}, title));
  for (const a of s.alarms) all.append(alarm(a, s.length_unit));
  if (s.refusal) all.append(element("p", {}, `No plan: ${s.refusal}`));
  if (s.alarms_lost) all.append(element("p", {}, `${s.alarms_lost} more stand, which the list has no room for.`));
  return all;
}

function job(j, runs) {
  if (!j) return null;
  return pairs([[runs ? "job" : "last job", j.job.name], runs ? ["phase", `${j.phase.name}: ${j.phase.text}`] : null,
    runs ? ["time left", `${milliseconds(j.time_left_ms)}, ${j.progress_percent} %`] : null]);
}

function progress(j) {
  return element("progress", { max: 100, value: j.progress_percent, "aria-label": "progress of the job" });
}

function unit(s) {
  const runs = s.job && s.job.phase.name !== "NONE", holder = s.control.holder ? ` by ${s.control.holder}` : "";
  return element("section", { id: "unit" }, element("h2", {}, s.name),
    element("p", { class: "state" }, s.state.name),
    element("p", { class: "quiet" }, `${s.state.text}; for ${seconds(s.in_state_s)}`),
    job(s.job, runs), runs ? progress(s.job) : null,
    pairs([["orders", orders(s.orders)], ["control", `${s.control.state.word}${holder}`]]),
    element("p", {}, element("a", { href: `/sheet?station=${s.number}` }, "A sheet to print")),
    element("p", {}, element("a", { href: `/records?station=${s.number}` }, "Records of the past")));
}

function line(s) {
  const list = element("ul", { class: "signals" });
  for (const bit of s.line) list.append(signal(bit, bit.on));
  return element("section", { id: "line" }, element("h2", {}, "Signals to the line"), list,
    element("p", { class: "quiet" }, "None of these is a safety function."));
}

function permissives(s) {
  const list = element("ul", { class: "signals" });
  for (const p of s.permissives) {
    const more = p.missing ? ": MISSING" : p.needed ? "" : " (not needed for a changeover)";
    list.append(signal({ name: p.name, text: `${p.text}${more}` }, p.given, p.missing ? "missing" : ""));
  }
  return element("section", { id: "permissives" }, element("h2", {}, "Permissives"), list);
}

function last(s) {
  const rows = [];
  const v = s.verdict, r = s.record, g = s.gateway;
  if (v) rows.push(["last request", `${v.number} ${v.kind.name}, order ${v.order}, ${v.slits} slits: ${v.text}` +
        (v.verified_ms ? `; verified ${milliseconds(v.verified_ms)} after Start` : "")]);
  if (s.command) rows.push(["last command", `${s.command.number}: ${s.command.text}`]);
  if (r)
    rows.push(["last record", `order ${r.order} ${r.result.word}; moves planned ${milliseconds(r.planned_ms)}, ` +
        `took ${milliseconds(r.actual_ms)}; in all planned ${milliseconds(r.told_ms)}, took ${milliseconds(r.total_ms)}`],
      ["worst pair", length(r.worst_pair_um, s.length_unit)], ["worst slit", length(r.worst_slit_um, s.length_unit)]);
  rows.push(["station", `${s.address}, unit ${s.unit}`],
    ["gateway", `${g.cycles} cycles of ${g.period_ms} ms, ${g.overruns} late; no cycle for ${g.own_gap_ms} ms at ` +
        `most, ${seconds(g.own_gap_age_s)} ago`],
    ["PLC's heartbeat", `stood still for ${g.heartbeat_gap_ms} ms at most`]);
  return element("section", { id: "last" }, element("h2", {}, "Last request, command and record"), pairs(rows));
}

function status(s) {
  const list = element("ul", { class: "signals" });
  for (const bit of s.status) list.append(signal(bit, bit.on));
  return element("section", { id: "status" }, element("h2", {}, "Status"), list);
}

// Unknown values come last, in whichever direction the table is sorted.
function compare(a, b, sign) {
  if (a === b) return 0;
  if (a === null) return 1;
  if (b === null) return -1;
  return a < b ? -sign : sign;
}

function heading(rail, c, draw) {
  const [chosen, descending] = sorting[rail.number] ?? [0, false];
  const button = element("button", { type: "button" }, holder_columns[c][0]);
  button.addEventListener("click", () => {
    sorting[rail.number] = [c, chosen === c && !descending];
    draw();
  });
  const sort = chosen === c ? (descending ? "descending" : "ascending") : "none";
  return element("th", { scope: "col", class: holder_columns[c][3] ? "text" : "", "aria-sort": sort }, button);
}

function by_column(c, descending) {
  const value = holder_columns[c][1], sign = descending ? -1 : 1;
  return (a, b) => compare(value(a), value(b), sign) || a.number - b.number;
}

function holders(s, rail) {
  const table = element("table");
  const draw = () => {
    const [c, descending] = sorting[rail.number] ?? [0, false];
    const head = element("tr", {}, ...holder_columns.map((_, i) => heading(rail, i, draw)));
    const rows = [...rail.holders].sort(by_column(c, descending)).map((h) => holder_row(h, s));
    table.replaceChildren(element("thead", {}, head), element("tbody", {}, ...rows));
  };
  draw();
  return table;
}

function rails(s) {
  return s.rails.map((rail) => element("section", { class: "wide", "data-rail": rail.number },
    element("h2", {}, `Rail ${rail.number}, ${rail.role.word}`),
    element("p", { class: "quiet" }, `Carriage ${carriage(rail, s.length_unit)}`),
    element("p", { class: "quiet" }, references(rail, s.length_unit)),
    element("div", { class: "scroll" }, holders(s, rail))));
}

// A picture is replaced only when the next one has been loaded, so that it does not flicker.
function picture(name, meaning) {
  const image = element("img", { class: "drawing", alt: meaning });
  let wanted = 0, shown = 0;
  return (s, drawn) => {
    if (drawn !== wanted) {
      const number_wanted = wanted = drawn, next = new Image();
      next.src = `/api/v1/stations/${s.number}/${name}.svg?${number_wanted}`;
      next.decode().then(() => {
        if (number_wanted <= shown && wanted >= shown) return; // this is an older picture that came late
        shown = number_wanted;
        image.src = next.src;
      }, () => { wanted = 0; });
    }
    return element("div", { class: "scroll" }, image);
  };
}

const rails_picture = picture("drawing", "the rails to scale; the tables below say the same in numbers");
const next_picture = picture("next", "the web of the next order to scale; the words above say the same");

function order_words(cuts, unit) {
  return pairs([["web", web_words(cuts, unit)], ["slits", slit_words(cuts, unit)]]);
}

function in_force(s) {
  const title = s.cuts ? `Order ${s.cuts.order}, in force` : "No order in force";
  return element("section", { id: "in-force", class: "wide" }, element("h2", {}, title),
    s.cuts ? order_words(s.cuts, s.length_unit) : null, rails_picture(s, s.drawing));
}

function next_order(s) {
  if (!s.next) return null;
  return element("section", { id: "next", class: "wide" }, element("h2", {}, `Next order ${s.next.order}, staged`),
    order_words(s.next, s.length_unit), next_picture(s, s.next_drawing));
}

// All elements are made anew. The scroll position of each table, and the element with the focus, are kept.
function show(...children) {
  const left = [...main.querySelectorAll(".scroll")].map((e) => e.scrollLeft);
  const focus = main.contains(document.activeElement) ? path_of(document.activeElement) : null;
  main.replaceChildren(...children);
  [...main.querySelectorAll(".scroll")].forEach((e, i) => { e.scrollLeft = left[i] ?? 0; });
  if (focus) main.querySelector(focus)?.focus({ preventScroll: true });
}

function path_of(e) {
  const steps = [];
  for (; e !== main; e = e.parentElement) steps.unshift(`:nth-child(${[...e.parentElement.children].indexOf(e) + 1})`);
  return `:scope > ${steps.join(" > ")}`;
}

function station(s) {
  document.title = `${s.name}: ${s.state.name}`;
  show(...[unit(s), alarms(s), line(s), permissives(s), in_force(s), next_order(s), ...rails(s), last(s), status(s)]
    .filter((part) => part !== null));
}

function card_link(s, stale, ...children) {
  const attributes = { class: stale ? "card stale" : "card", href: `/?station=${s.number}`, "data-station": s.number };
  return element("a", attributes, ...children);
}

function first_alarm(alarms) {
  const [first] = alarms, title = alarms.length === 1 ? "Alarm" : `${alarms.length} alarms, first`;
  if (!first) return null;
  return element("div", { class: `alarm ${first.reaction}` },
    element("p", { class: "head" }, `${title} ${first.code} ${first.name}`), element("p", {}, first.text));
}

function card(s) {
  if (!s.answers)
    return card_link(s, true, element("h2", {}, `Station ${s.number}`),
      element("p", { class: "state" }, "DOES NOT ANSWER"),
      element("p", { class: "quiet" }, `${s.address}, unit ${s.unit}: ${s.error}`));
  const j = s.job && s.job.phase.name !== "NONE" ? s.job : null;
  return card_link(s, false, element("h2", {}, s.name), element("p", { class: "state" }, s.state.name),
    element("p", { class: "quiet" }, `${s.state.text}; for ${seconds(s.in_state_s)}`),
    j ? element("p", {}, `${j.job.name}, ${j.progress_percent} %, ${milliseconds(j.time_left_ms)} left`) : null,
    element("p", {}, `Orders: ${orders(s.orders)}`), first_alarm(s.alarms));
}

function news(good, read_every_ms, reason = "") {
  heard_ms = performance.now();
  stale_ms = Math.max(STALE_MS, read_every_ms + READING_MS);
  why = good ? "" : reason;
  if (good) good_at = new Date();
  judge();
}

// Old figures are marked as old at once, whether the gateway or the panel's program is silent, or this computer was
// asleep.
function judge() {
  const silent = performance.now() - heard_ms > stale_ms;
  const text = silent ? "NO NEWS: the panel's program does not answer"
    : why ? `NO ANSWER FROM THE STATION: ${why}` : "";
  document.body.classList.toggle("stale", text !== "");
  lost.hidden = text === "";
  const at = good_at ? good_at.toLocaleTimeString() : "";
  lost.textContent = text && `${text}. ${at ? `The state below was read at ${at} and is old.` : ""}`;
  clock.textContent = at ? `read at ${at}` : "not read yet";
}

const events = new EventSource(number ? `/api/v1/stations/${number}/events` : "/api/v1/events");
const on = (name, take) => events.addEventListener(name, (event) => take(JSON.parse(event.data)));
on("station", (s) => { station(s); news(true, s.read_every_ms); });
on("lost", (s) => news(false, s.read_every_ms, s.error));
on("stations", (all) => { show(...all.map(card)); news(true, all[0].read_every_ms); });
setInterval(judge, 250);
