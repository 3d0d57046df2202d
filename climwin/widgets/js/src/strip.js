// A strip: one topic of the panel with its chart, key, controls and words.

import { box, fill, html, line, newId, svg } from "./elements.js";

/** How near a pointer must be to a line to take hold of it. [px] */
export const GRIP = 9;

/**
 * An empty strip. `key` has pairs of a kind of mark and what it stands for, `controls` elements,
 * `more` elements below the text. Its chart is described to a screen reader by its text.
 */
export function emptyStrip(name, { key, controls, more = [] }) {
  const headId = newId();
  const textId = newId();
  const chart = svg("svg", { role: "img", "aria-labelledby": textId });
  const text = html("p", { id: textId, class: "said" });
  const title = html("h3", { id: headId }, name);
  const items = key.map(([kind, meaning]) => html("li", {}, swatch(kind), meaning));
  const root = html(
    "section",
    { class: "strip", "aria-labelledby": headId },
    title,
    html("div", { class: "drawn" }, chart, html("ul", { class: "key" }, items)),
    html("div", { class: "controls" }, controls),
    html("div", { class: "words" }, text, more),
  );
  function show(width, height, ...content) {
    fill(chart, { width, height, viewBox: `0 0 ${width} ${height}` }, []);
    chart.replaceChildren();
    fill(chart, {}, content);
  }
  return { root, title, items, chart, text, show };
}

/** What a kind of mark looks like: "line first" is a line of the kind "first", all else a box. */
function swatch(kind) {
  const mark = kind.startsWith("line ")
    ? line(1, 6, 21, 6, kind.slice("line ".length))
    : box(1, 1, 20, 10, kind);
  return svg("svg", { width: 22, height: 12, "aria-hidden": "true" }, mark);
}

/**
 * Follow a pointer on a chart. grip(x, y) returns what follows the pointer where it took hold of a
 * mark, else null; then pick(x, y) follows it.
 */
export function followPointer(chart, { grip = () => null, pick }) {
  let follow = null;
  function placeOf(event) {
    const { left, top } = chart.getBoundingClientRect();
    return [event.clientX - left, event.clientY - top];
  }
  chart.addEventListener("pointerdown", (event) => {
    follow = grip(...placeOf(event)) ?? pick;
    chart.setPointerCapture(event.pointerId);
    follow(...placeOf(event));
  });
  chart.addEventListener("pointermove", (event) => follow?.(...placeOf(event)));
  for (const end of ["pointerup", "pointercancel"]) {
    chart.addEventListener(end, () => {
      follow = null;
    });
  }
}
