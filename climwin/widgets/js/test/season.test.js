import assert from "node:assert/strict";
import { test } from "node:test";
import { shownIn, withChoice } from "../src/season.js";

const STATE = { crop: "pea", sown: "04-10", on: "2024-05-15", units: "C" };

test("a choice changes its own value alone, and leaves the old state as it was", () => {
  const before = structuredClone(STATE);
  assert.deepEqual(withChoice(STATE, "crop", "potato"), { ...before, crop: "potato" });
  assert.deepEqual(STATE, before);
});

test("blanks around a date do not count, and an emptied field is empty", () => {
  assert.equal(withChoice(STATE, "sown", " 04-12 ").sown, "04-12");
  assert.equal(withChoice(STATE, "sown", "  ").sown, "");
});

test("the controls show the state in their own order, and nothing where nothing was chosen", () => {
  assert.deepEqual(shownIn(STATE, ["units", "crop"]), ["C", "pea"]);
  assert.deepEqual(shownIn({}, ["sown", "on"]), ["", ""]);
});
