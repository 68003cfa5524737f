// The page: a list of stations, or one station, kept up to date by server-sent events. It only asks for things; it sends nothing.
import { carriage, element, holder_columns, length, milliseconds, orders, pairs, seconds } from "/words.js";

const STALE_MS = 3000; // without news for so long, what is shown is said to be old
const main = document.getElementById("main"), lost = document.getElementById("lost"), clock = document.getElementById("clock");
const number = Number(new URLSearchParams(location.search).get("station")) || 0;
const sorting = {}; // of each rail's table: [column, descending]
let heard_ms = performance.now(), good_at = null, why = "";

function signal(bit, on, more = "") {
  return element("li", { class: `${on ? "on" : "off"} ${more}`, "data-name": bit.name },
    element("span", { class: "value" }, on ? "1" : "0"),
    element("span", {}, element("span", { class: "name" }, bit.name), ` ${bit.text}`));
}

function alarm(a) {
  const where = [a.rail ? `rail ${a.rail}` : ""].filter((w) => w).join(", ");
  return element("div", { class: `alarm ${a.reaction}`, "data-code": a.code },
    element("p", { class: "head" }, `Alarm ${a.code} ${a.name} (${a.reaction}), for ${seconds(a.age_s)}${where ? `, ${where}` : ""}`),
    element("p", {}, a.text), element("p", { class: "quiet" }, a.remedy));
}

function alarms(s) {
  const all = element("section", { id: "alarms" }, element("h2", {}, s.alarms.length ? `Alarms: ${s.alarms.length}, the first ones explain the later` : "Alarms: none"));
  for (const a of s.alarms) all.append(alarm(a));
  if (s.refusal) all.append(element("p", {}, `No plan: ${s.refusal}`));
  if (s.alarms_lost) all.append(element("p", {}, `${s.alarms_lost} more stand, which the list has no room for.`));
  return all;
}

function unit(s) {
  const runs = s.job && s.job.phase.name !== "NONE";
  return element("section", { id: "unit" }, element("h2", {}, s.name),
    element("p", { class: "state" }, s.state.name),
    element("p", { class: "quiet" }, `${s.state.text}; for ${seconds(s.in_state_s)}`),
    s.job ? pairs([[runs ? "job" : "last job", s.job.job.name], runs ? ["phase", `${s.job.phase.name}: ${s.job.phase.text}`] : null,
      runs ? ["time left", `${milliseconds(s.job.time_left_ms)}, ${s.job.progress_percent} %`] : null]) : null,
    runs ? element("progress", { max: 100, value: s.job.progress_percent, "aria-label": "progress of the job" }) : null,
    pairs([["orders", orders(s.orders)], ["control", `${s.control.state.word}${s.control.holder ? ` by ${s.control.holder}` : ""}`]]),
    element("p", {}, element("a", { href: `/sheet?station=${s.number}` }, "A sheet to print")));
}

function line(s) {
  const list = element("ul", { class: "signals" });
  for (const bit of s.line) list.append(signal(bit, bit.on));
  return element("section", { id: "line" }, element("h2", {}, "Signals to the line"), list,
    element("p", { class: "quiet" }, "None of these is a safety function."));
}

function permissives(s) {
  const list = element("ul", { class: "signals" });
  for (const p of s.permissives)
    list.append(signal({ name: p.name, text: `${p.text}${p.missing ? ": MISSING" : p.needed ? "" : " (not needed for a changeover)"}` }, p.given, p.missing ? "missing" : ""));
  return element("section", { id: "permissives" }, element("h2", {}, "Permissives"), list);
}

function last(s) {
  const rows = [];
  if (s.verdict) rows.push(["last request", `${s.verdict.number} ${s.verdict.kind.name}, order ${s.verdict.order}, ${s.verdict.slits} slits: ${s.verdict.text}`]);
  if (s.command) rows.push(["last command", `${s.command.number}: ${s.command.text}`]);
  if (s.record) rows.push(["last record", `order ${s.record.order} ${s.record.result.word}; moves planned ${milliseconds(s.record.planned_ms)}, took ${milliseconds(s.record.actual_ms)}, in all ${milliseconds(s.record.total_ms)}`],
    ["worst pair", length(s.record.worst_pair_um, s.length_unit)], ["worst slit", length(s.record.worst_slit_um, s.length_unit)]);
  const g = s.gateway;
  rows.push(["gateway", `${g.cycles} cycles of ${g.period_ms} ms, ${g.overruns} late; no cycle for ${g.own_gap_ms} ms at most`],
    ["PLC's heartbeat", `stood still for ${g.heartbeat_gap_ms} ms at most`]);
  return element("section", { id: "last" }, element("h2", {}, "What was last"), pairs(rows));
}

function status(s) {
  const list = element("ul", { class: "signals" });
  for (const bit of s.status) list.append(signal(bit, bit.on));
  return element("section", { id: "status" }, element("h2", {}, "Status"), list);
}

function compare(a, b) {
  if (a === b) return 0;
  if (a === null) return 1; // what is not known stands last
  if (b === null) return -1;
  return a < b ? -1 : 1;
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

function holders(s, rail) {
  const table = element("table");
  const draw = () => {
    const [c, descending] = sorting[rail.number] ?? [0, false];
    const rows = [...rail.holders].sort((a, b) => (descending ? -1 : 1) * compare(holder_columns[c][1](a), holder_columns[c][1](b)) || a.number - b.number);
    const body = element("tbody");
    for (const h of rows)
      body.append(element("tr", { "data-holder": h.number }, ...holder_columns.map(([, value, text, left]) => element("td", { class: left ? "text" : "" }, text(value(h), s)))));
    table.replaceChildren(element("thead", {}, element("tr", {}, ...holder_columns.map((_, i) => heading(rail, i, draw)))), body);
  };
  draw();
  return table;
}

function rails(s) {
  return s.rails.map((rail) => element("section", { class: "wide", "data-rail": rail.number },
    element("h2", {}, `Rail ${rail.number}, ${rail.role.word}`), element("p", { class: "quiet" }, `Carriage ${carriage(rail, s.length_unit)}`),
    element("div", { class: "scroll" }, holders(s, rail))));
}

// The picture is changed when the next one has been loaded: it does not flicker.
const picture = element("img", { class: "drawing", alt: "the rails to scale; the tables below say the same in numbers" });
let wanted = 0, shown = 0;

function drawing(s) {
  if (s.drawing !== wanted) {
    const number_wanted = wanted = s.drawing, next = new Image();
    next.src = `/api/v1/stations/${s.number}/drawing.svg?${number_wanted}`;
    next.decode().then(() => { if (number_wanted > shown || wanted < shown) { shown = number_wanted; picture.src = next.src; } }, () => { wanted = 0; });
  }
  return element("section", { class: "wide scroll" }, picture);
}

// The table under a finger must not jump: what stays is moved, not made anew, only where the browser would lose its place.
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
  show(unit(s), alarms(s), line(s), permissives(s), drawing(s), ...rails(s), last(s), status(s));
}

function card(s) {
  if (!s.answers)
    return element("a", { class: "card stale", href: `/?station=${s.number}`, "data-station": s.number }, element("h2", {}, `Station ${s.number}`),
      element("p", { class: "state" }, "DOES NOT ANSWER"), element("p", { class: "quiet" }, `${s.gateway}, unit ${s.unit}: ${s.error}`));
  const first = s.alarms[0];
  return element("a", { class: "card", href: `/?station=${s.number}`, "data-station": s.number }, element("h2", {}, s.name),
    element("p", { class: "state" }, s.state.name), element("p", { class: "quiet" }, `${s.state.text}; for ${seconds(s.in_state_s)}`),
    s.job && s.job.phase.name !== "NONE" ? element("p", {}, `${s.job.job.name}, ${s.job.progress_percent} %, ${milliseconds(s.job.time_left_ms)} left`) : null,
    element("p", {}, `Orders: ${orders(s.orders)}`),
    first ? element("div", { class: `alarm ${first.reaction}` }, element("p", { class: "head" }, `${s.alarms.length === 1 ? "Alarm" : `${s.alarms.length} alarms, first`} ${first.code} ${first.name}`), element("p", {}, first.text)) : null);
}

function news(good, reason = "") {
  heard_ms = performance.now();
  why = good ? "" : reason;
  if (good) good_at = new Date();
  judge();
}

// Old looks old at once: whether the gateway is silent, the panel's program, or this computer was asleep.
function judge() {
  const silent = performance.now() - heard_ms > STALE_MS;
  const text = silent ? "NO NEWS: the panel's program does not answer" : why ? `NO ANSWER FROM THE STATION: ${why}` : "";
  document.body.classList.toggle("stale", text !== "");
  lost.hidden = text === "";
  lost.textContent = text && `${text}. ${good_at ? `What stands below was read at ${good_at.toLocaleTimeString()} and is old.` : ""}`;
  clock.textContent = good_at ? `read at ${good_at.toLocaleTimeString()}` : "not read yet";
}

const events = new EventSource(number ? `/api/v1/stations/${number}/events` : "/api/v1/events");
events.addEventListener("station", (event) => { station(JSON.parse(event.data)); news(true); });
events.addEventListener("lost", (event) => { news(false, JSON.parse(event.data).error); });
events.addEventListener("stations", (event) => { show(...JSON.parse(event.data).map(card)); news(true); });
setInterval(judge, 250);
