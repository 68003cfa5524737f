// A station as it is now, made to be printed.
import { carriage, element, holder_columns, length, orders, pairs, slits } from "/words.js";

const main = document.getElementById("main");
const number = Number(new URLSearchParams(location.search).get("station")) || 1;

function slit_table(s) {
  const all = slits(s.cuts);
  if (all.length === 0) return element("p", {}, "No order is in force.");
  const rows = all.map(([n, um]) => element("tr", {}, element("td", {}, String(n)), element("td", {}, length(um, s.length_unit)),
    element("td", {}, length(s.cuts.lines_um[n - 1], s.length_unit)), element("td", {}, length(s.cuts.lines_um[n], s.length_unit))));
  return element("table", {}, element("thead", {}, element("tr", {}, ...["slit", "width", "from", "to"].map((t) => element("th", {}, t)))), element("tbody", {}, ...rows));
}

function rail_table(s, rail) {
  const head = element("tr", {}, ...holder_columns.map(([name, , , left]) => element("th", { class: left ? "text" : "" }, name)));
  const rows = rail.holders.map((h) => element("tr", { "data-holder": h.number }, ...holder_columns.map(([, value, text, left]) => element("td", { class: left ? "text" : "" }, text(value(h), s)))));
  return element("section", {}, element("h2", {}, `Rail ${rail.number}, ${rail.role.word}`), element("p", { class: "quiet" }, `Carriage ${carriage(rail, s.length_unit)}`),
    element("table", {}, element("thead", {}, head), element("tbody", {}, ...rows)));
}

function sheet(s) {
  document.title = `${s.name}, order ${s.orders.in_force}`;
  main.replaceChildren(
    element("section", {}, element("h2", {}, `Station ${s.name}`), pairs([["read at", new Date().toLocaleString()], ["unit", `${s.state.name}: ${s.state.text}`],
      ["orders", orders(s.orders)], ["operator trim", length(s.cuts.trim_operator_um, s.length_unit)], ["drive trim", length(s.cuts.trim_drive_um, s.length_unit)],
      ["alarms", s.alarms.map((a) => `${a.code} ${a.name}: ${a.text}`).join("; ") || "none"]])),
    element("section", {}, element("img", { class: "drawing", src: `/api/v1/stations/${number}/drawing.svg`, alt: "the rails to scale" })),
    element("section", {}, element("h2", {}, "Slits of the order in force"), slit_table(s)),
    ...s.rails.map((rail) => rail_table(s, rail)));
}

fetch(`/api/v1/stations/${number}`).then(async (answer) => {
  const s = await answer.json().catch(() => ({ error: answer.statusText }));
  if (answer.ok) sheet(s);
  else main.replaceChildren(element("p", { class: "lost" }, `NO ANSWER FROM THE STATION: ${s.error}`));
}).catch((e) => main.replaceChildren(element("p", { class: "lost" }, `NO ANSWER: ${e.message}`)));
