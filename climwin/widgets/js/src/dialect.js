// How a reader's own English has it, as climwin.core.dialect: dates with the month first beside
// degrees Fahrenheit, frost beside Celsius. Sentences are written once, with "5 Mar" and "freeze".
// Numbers do not part from their units, as climwin.core.text has it.

import { MONTHS } from "./wording.js";

const LONG = ["January", "February", "March", "April", "June", "July", "August", "September"];
const NAMES = [...LONG, "October", "November", "December", ...MONTHS].join("|");
const DATE = new RegExp(
  `(?<![\\w.,-])(\\d{1,2}(?:\u2013\\d{1,2})?)(\\s)(${NAMES})\\b(?:\\s((?:18|19|20)\\d\\d)\\b)?`,
  "g",
);

/** Text whose dates have the month first. */
export const americanDates = (text) =>
  text.replace(DATE, (_, days, blank, month, year) =>
    [`${month}${blank}${days}`, year].filter(Boolean).join(", "),
  );

const FREEZE = /(?<![\w/\\.])([Ff])reeze(s?)(?![\w/\\]|\.\w)/g;

/** Text as a reader of these units, "C" or "F", would write it. */
export const inDialect = (text, units) =>
  units === "F" ? americanDates(text) : text.replace(FREEZE, "$1rost$2");

const BEFORE_UNIT = new RegExp(
  `(\\d) (?=(?:${MONTHS.join("|")})[a-z]*\\b|[°%]|years?\\b|days?\\b)`,
  "g",
);

/** Text whose numbers stay on one line with their month, their unit or their total, as
 * climwin.core.text. */
export const unbroken = (text) =>
  text.replace(/(\d) of (?=\d+\b)/g, "$1\u00a0of\u00a0").replace(BEFORE_UNIT, "$1\u00a0");

/** Nodes whose text was turned: how it was written for everybody, and how it was last shown. */
const TURNED = new WeakMap();

/** Attributes of an element that a screen reader reads out. */
const SPOKEN = ["aria-label", "aria-valuetext", "title"];

/** The same for attributes that were turned, by the name of each. */
const TURNED_ATTRIBUTES = new WeakMap();

function speakAttributes(element, units) {
  const turned = TURNED_ATTRIBUTES.get(element) ?? {};
  for (const name of SPOKEN) {
    const now = element.getAttribute(name);
    if (now === null) continue;
    const last = turned[name];
    const written = last?.shown === now ? last.written : now;
    const shown = inDialect(written, units);
    if (shown === now) continue;
    element.setAttribute(name, shown);
    turned[name] = { written, shown };
    TURNED_ATTRIBUTES.set(element, turned);
  }
}

/** Put all text below an element, and what is read out of it, into the English of these units, and
 * keep numbers with their units in text that wraps; it may be done over and over. */
export function speak(root, units) {
  const walker = document.createTreeWalker(root, NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) {
    const node = walker.currentNode;
    const last = TURNED.get(node);
    const written = last && last.shown === node.data ? last.written : node.data;
    const wraps = !(node.parentElement instanceof SVGElement);
    const shown = inDialect(wraps ? unbroken(written) : written, units);
    if (shown === node.data) continue;
    node.data = shown;
    TURNED.set(node, { written, shown });
  }
  for (const element of root.querySelectorAll("*")) speakAttributes(element, units);
}
