import assert from "node:assert/strict";
import { test } from "node:test";
import { dayName, dayNumber, modulo, seasonOffset } from "../src/calendar.js";
import {
  degrees,
  fixed,
  number,
  percent,
  span,
  temperature,
  toCelsius,
} from "../src/formatting.js";
import { article, capitalized, say } from "../src/wording.js";

test("a number has the minus sign of print, and zero none", () => {
  assert.deepEqual(
    [-2.2, -0.04, 0, 7.25].map((v) => number(v, 1)),
    ["\u22122.2", "0.0", "0.0", "7.2"],
  );
});

test("exact halves go to the even digit, all else to the nearer one", () => {
  assert.deepEqual(
    [0.5, 1.5, 2.5, -0.5].map((v) => fixed(v)),
    ["0", "2", "2", "0"],
  );
  assert.deepEqual(
    [0.25, 0.75, 0.35, 1.005].map((v) => fixed(v, 1)),
    ["0.2", "0.8", "0.3", "1.0"],
  );
});

test("temperatures have print's minus sign, no needless zero and no minus before a zero", () => {
  assert.equal(temperature(-2.2, "C", 1), "\u22122.2 °C");
  assert.equal(temperature(-0.04, "C", 1), "0 °C");
  assert.equal(temperature(0, "F"), "32 °F"); // water freezes
  assert.equal(temperature(100, "F"), "212 °F"); // and boils
  assert.equal(temperature(-40, "F"), "\u221240 °F"); // where the two scales meet
  assert.equal(degrees(7.25, "C"), "7.2 °C");
});

test("what a hand chose goes to degC in tenths, and back to the same whole degF", () => {
  assert.equal(toCelsius(7.24, "C"), 7.2);
  for (let fahrenheit = -40; fahrenheit <= 120; fahrenheit++) {
    const shown = temperature(toCelsius(fahrenheit, "F"), "F");
    assert.equal(shown.replace("\u2212", "-"), `${fahrenheit} °F`);
  }
});

test("shares are whole percentages, or unknown", () => {
  assert.equal(percent(0.625), "62 %");
  assert.equal(percent(NaN), "unknown");
});

test("every day of the year has a name that reads back as the same day", () => {
  const names = Array.from({ length: 365 }, (_, i) => dayName(i + 1));
  assert.equal(new Set(names).size, 365);
  names.forEach((name, i) => assert.equal(dayNumber(name), i + 1));
  assert.equal(dayName(366), "1 Jan");
  assert.equal(dayName(0), "31 Dec");
});

test("dates are read in three ways, and nothing else is a date", () => {
  assert.deepEqual(["20 Apr", "april 20", "4-20"].map(dayNumber), [110, 110, 110]);
  assert.deepEqual(
    ["29 Feb", "31 Apr", "0 Jan", "13-01", "soon", ""].map(dayNumber),
    [0, 0, 0, 0, 0, 0],
  );
});

test("a span's missing end stays open", () => {
  assert.equal(span(110, NaN), "20 Apr to …");
  assert.equal(span(null, 110), "… to 20 Apr");
});

test("a season that begins in the second half of the year belongs to the next one", () => {
  assert.equal(seasonOffset(1), 0);
  assert.equal(seasonOffset(183), 182);
  assert.equal(seasonOffset(184), -182);
  assert.equal(modulo(-1, 365), 364);
});

test("templates take the plural of their count and refuse what is not theirs", () => {
  assert.equal(say("years", { count: 1 }), "1 year");
  assert.equal(say("years", { count: 0 }), "0 years");
  assert.throws(() => say("no_such_template"), /no template no_such_template/);
  assert.throws(() => say("span", { first: "3 May" }), /value for last/);
  assert.equal(say("span", { first: "{last}", last: "$&" }), "{last} to $&");
});

test("articles and capitals", () => {
  assert.equal(article("unheated greenhouse"), "an");
  assert.equal(article("cold frame"), "a");
  assert.equal(capitalized("raised in a Dutch light"), "Raised in a Dutch light");
});
