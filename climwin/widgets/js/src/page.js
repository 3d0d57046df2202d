// The page's script: it unpacks the numbers within the page when the reader asks for them, and mounts
// the live chart. What only a notebook can answer is left out of it.

import { fromBase85 } from "./base85.js";
import { mount } from "./chart.js";

/** Labels of the controls that the page can answer. */
const ANSWERED = [
  ...["Crop", "Read a date", "Days it needs"],
  ...["Sown or planted on", "Weeks under cover", "Raised in"],
];
const PARTS = ["window", "plans"];

/** JSON that climwin.page.live has zipped: gzip in base85. */
async function unzip(text) {
  const plain = new Blob([fromBase85(text)]).stream().pipeThrough(new DecompressionStream("gzip"));
  return new Response(plain).json();
}

/** Rows from columns: one object for each place in lists of one length, by the lists' names. */
function rowsOf(columns) {
  const names = Object.keys(columns);
  const row = (i) => Object.fromEntries(names.map((name) => [name, columns[name][i]]));
  return columns[names[0]].map((_, i) => row(i));
}

/** What tells a way of growing a crop from others; a cover counts only where weeks are spent in it. */
const keyOf = (crop, { weeks, cover, fleece, earliness, bed, plants }) =>
  JSON.stringify([crop, weeks, weeks ? cover : "", fleece, earliness, bed, plants]);

/** What the library has worked out of the two plans of a state; nothing where it has not. */
function resultsByState(evaluations) {
  const outcomes = rowsOf(evaluations.outcomes);
  const byKey = new Map(
    rowsOf(evaluations.ways).map(({ crop, way }, i) => [keyOf(crop, way), outcomes[i]]),
  );
  return ({ years, crop, killed, ways }) => {
    const plans = ways.map((way) => byKey.get(keyOf(crop, way)));
    return plans.every(Boolean) ? { plans: { inputs: { years, crop, killed, ways }, plans } } : {};
  };
}

function removeUnanswered(root) {
  const controls = [...root.querySelectorAll(".dial, .choice")];
  const unanswered = controls.filter(
    (control) => !ANSWERED.includes(control.querySelector("label").textContent),
  );
  for (const control of [...unanswered, root.querySelector(".years")]) control.remove();
}

async function open() {
  const {
    numbers,
    state: first,
    offered,
    plans,
  } = await unzip(document.getElementById("live-numbers").textContent);
  const root = document.getElementById("live-chart");
  const resultsOf = resultsByState(plans);
  const given = { numbers, state: first, results: resultsOf(first), parts: PARTS, offered };
  const chart = mount(root, given, (state) => {
    // Plans were grown by the crop's own limits, and those of other crops under these covers.
    const ways =
      state.crop === offered.crop
        ? state.ways
        : state.ways.map((way, i) => ({ ...way, cover: first.ways[i].cover }));
    const own = { ...state, ways, limits: null, killed: null };
    chart.give({ state: own, results: resultsOf(own) });
  });
  removeUnanswered(root);
}

/** The reader's own prints: the first sheet alone, for the shed's door. */
function printFirstSheet() {
  document.documentElement.classList.add("one-sheet");
  window.print();
  document.documentElement.classList.remove("one-sheet");
}

const details = document.getElementById("live");
if (details && "DecompressionStream" in window) {
  details.hidden = false;
  details.addEventListener("toggle", open, { once: true });
  for (const link of document.querySelectorAll('[data-open="live"]')) {
    link.hidden = false;
    link.addEventListener("click", () => (details.open = true));
  }
}
for (const button of document.querySelectorAll("[data-print]")) {
  button.hidden = false;
  button.addEventListener("click", printFirstSheet);
}
