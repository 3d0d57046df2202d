// The page's script: it unpacks the numbers within the page when the reader asks for them, and mounts
// the live chart. What only a notebook can answer is left out of it.

import { mount } from "./chart.js";

/** Labels of the controls that the page can answer. */
const ANSWERED = ["Crop", "Read a date", "Days it needs", "Sown or planted on"];
const PARTS = ["window", "plans"];

/** JSON that climwin.page.live has packed: gzip in base64. */
async function unpackJson(text) {
  const packed = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
  const plain = new Blob([packed]).stream().pipeThrough(new DecompressionStream("gzip"));
  return new Response(plain).json();
}

/**
 * What the library has worked out of the plans, by the state that it was worked out for. A crop that
 * is grown in one way alone has it once, and is shown in it twice.
 */
function resultsByState(evaluations) {
  const inTwos = evaluations.map((each) => ({
    ...each,
    plans: [each.plans[0], each.plans.at(-1)],
  }));
  const byInputs = new Map(inTwos.map((each) => [JSON.stringify(each.inputs), each]));
  return ({ years, crop, killed, ways }) => {
    const inputs = JSON.stringify({ years, crop, killed, ways });
    return { plans: byInputs.get(inputs) };
  };
}

function removeUnanswered(root) {
  const controls = [...root.querySelectorAll(".dial, .choice")];
  const unanswered = controls.filter(
    (control) => !ANSWERED.includes(control.querySelector("label").textContent),
  );
  const buttons = root.querySelectorAll(".controls > button"); // back to limits that cannot move
  for (const control of [...unanswered, ...buttons, root.querySelector(".years")]) {
    control.remove();
  }
}

async function open() {
  const {
    numbers,
    state: first,
    plans,
  } = await unpackJson(document.getElementById("live-numbers").textContent);
  const root = document.getElementById("live-chart");
  const resultsOf = resultsByState(plans);
  const given = { numbers, state: first, results: resultsOf(first), parts: PARTS };
  const chart = mount(root, given, (state) => {
    const own = { ...state, limits: null, killed: null }; // plans were grown by the crop's own
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
