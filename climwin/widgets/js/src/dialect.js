// How a reader's own English has it, as climwin.core.dialect: dates with the month first beside
// degrees Fahrenheit. Sentences are written once, with "5 Mar".

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

/** Turn the dates of all text below an element. */
export function turnDates(root) {
  const walker = document.createTreeWalker(root, NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) {
    const turned = americanDates(walker.currentNode.data);
    if (turned !== walker.currentNode.data) walker.currentNode.data = turned;
  }
}
