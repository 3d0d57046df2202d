// climwin's live chart: strips on one ruler of the year, drawn from plain numbers.

import { coverStrip } from "./cover_strip.js";
import { speak } from "./dialect.js";
import { createFrame } from "./frame.js";
import { freezeStrip } from "./freeze_strip.js";
import { createPanel } from "./panel.js";
import { plansStrip } from "./plans_strip.js";
import { windowStrip } from "./window_strip.js";

const STRIPS = { freeze: freezeStrip, window: windowStrip, plans: plansStrip, cover: coverStrip };

/**
 * Put a panel into an element.
 *
 * given: { numbers: { record, crops, constants, cover }, state, results, parts, busy, message }, as
 * climwin.widgets.panels.Panel has them; onState(state) is called with every state that a hand has
 * made. Returns { give, close }: give() takes new ones of these, close() ends the panel.
 */
export function mount(root, given, onState = () => {}) {
  const { parts } = given;
  const panel = createPanel(given, () => {
    onState(panel.state);
    askForDrawing();
  });
  const frame = createFrame(panel, parts);
  const strips = parts.map((part) => STRIPS[part](panel));
  const controls = [...frame.controls, ...strips.flatMap((strip) => strip.controls)];
  const foremost = Math.max(parts.indexOf("window"), 0);
  let drawingDue = 0;

  function askForDrawing() {
    drawingDue ||= requestAnimationFrame(draw);
  }
  function draw() {
    drawingDue = 0;
    root.classList.toggle("at-work", panel.busy);
    root.setAttribute("aria-busy", panel.busy);
    if (!panel.record) {
      frame.refresh("");
      return;
    }
    panel.width = Math.floor(root.querySelector(".drawn").clientWidth) || panel.width;
    const findings = strips.map((strip) => strip.draw());
    for (const control of controls) control.refresh();
    frame.refresh(findings[foremost]);
    speak(root, panel.state.units);
    root.setAttribute("aria-label", `climwin panel, ${panel.record.name}`);
  }
  function give(news) {
    panel.take(news);
    askForDrawing();
  }

  root.classList.add("climwin");
  root.setAttribute("role", "group");
  root.replaceChildren(...frame.roots, ...strips.map((strip) => strip.root));
  const watcher = new ResizeObserver(askForDrawing);
  watcher.observe(root);
  give(given);
  return {
    give,
    close() {
      watcher.disconnect();
      cancelAnimationFrame(drawingDue);
      frame.close();
    },
  };
}
