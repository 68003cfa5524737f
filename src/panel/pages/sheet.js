// Shows the present state of a station, to be printed.
import { carriage, element, holder_columns, holder_row, length, orders, pairs, references, slit_words, web_words }
  from "/words.js";

const main = document.getElementById("main");
const number = Number(new URLSearchParams(location.search).get("station")) || 1;
const drawing = `/api/v1/stations/${number}/drawing.svg`;

function slit_table(s) {
  if (!s.cuts) return element("p", {}, "No order is in force.");
  const head = ["slit", "width", "from", "to", "measured"].map((name) => element("th", {}, name));
  const lengths = (slit) => [slit.to_um - slit.from_um, slit.from_um, slit.to_um, slit.measured_um].map((um) =>
    length(um, s.length_unit));
  const cells = (slit) => [String(slit.number), ...lengths(slit)].map((text) => element("td", {}, text));
  const rows = s.cuts.slits.map((slit) => element("tr", {}, ...cells(slit)));
  return element("table", {}, element("thead", {}, element("tr", {}, ...head)), element("tbody", {}, ...rows));
}

function rail_table(s, rail) {
  const names = holder_columns.map(([name, , , left]) => element("th", { class: left ? "text" : "" }, name));
  return element("section", {}, element("h2", {}, `Rail ${rail.number}, ${rail.role.word}`),
    element("p", { class: "quiet" }, `Carriage ${carriage(rail, s.length_unit)}`),
    element("p", { class: "quiet" }, references(rail, s.length_unit)),
    element("table", {}, element("thead", {}, element("tr", {}, ...names)),
      element("tbody", {}, ...rail.holders.map((h) => holder_row(h, s)))));
}

function sheet(s) {
  document.title = `${s.name}, order ${s.orders.in_force}`;
  main.replaceChildren(
    element("section", {}, element("h2", {}, `Station ${s.name}`), pairs([["read at", new Date().toLocaleString()],
      ["unit", `${s.state.name}: ${s.state.text}`], ["orders", orders(s.orders)],
      s.cuts ? ["web", web_words(s.cuts, s.length_unit)] : null,
      s.next ? ["next", `order ${s.next.order}: ${web_words(s.next, s.length_unit)}; ` +
        slit_words(s.next, s.length_unit)] : null,
      ["alarms", s.alarms.map((a) => `${a.code} ${a.name}: ${a.text}`).join("; ") || "none"]])),
    element("section", {}, element("img", { class: "drawing", src: drawing, alt: "the rails to scale" })),
    element("section", {}, element("h2", {}, "Slits of the order in force"), slit_table(s)),
    ...s.rails.map((rail) => rail_table(s, rail)));
}

fetch(`/api/v1/stations/${number}`).then(async (answer) => {
  const s = await answer.json().catch(() => ({ error: answer.statusText }));
  if (answer.ok) sheet(s);
  else main.replaceChildren(element("p", { class: "lost" }, `NO ANSWER FROM THE STATION: ${s.error}`));
}).catch((e) => main.replaceChildren(element("p", { class: "lost" }, `NO ANSWER: ${e.message}`)));
