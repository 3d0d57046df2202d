// The notebook's panel: anywidget calls render() with the model of climwin.widgets.panels.Panel.

import { mount } from "./chart.js";
import { html } from "./elements.js";

/** Traits of the Python side that change while the panel is shown. */
const TRAITS = ["numbers", "state", "results", "busy", "message"];

function render({ model, el }) {
  const root = html("div");
  el.append(root);
  const given = Object.fromEntries([...TRAITS, "parts"].map((name) => [name, model.get(name)]));
  const chart = mount(root, given, (state) => {
    model.set("state", state);
    model.save_changes();
  });
  const listeners = TRAITS.map((name) => [
    `change:${name}`,
    () => chart.give({ [name]: model.get(name) }),
  ]);
  for (const [event, listener] of listeners) model.on(event, listener);
  return () => {
    for (const [event, listener] of listeners) model.off(event, listener);
    chart.close();
  };
}

export { mount };
export default { render };
