// Wording that the front end shares with Python; core/wording.py explains the templates.

import wording from "../../../core/wording.json" with { type: "json" };

export const MONTHS = wording.months;

/** What a sentence calls the window of a whole year, of its rise and of its fall. */
export const WINDOW_NAMES = wording.window_names;

/** Fill in a template. The value `count` also chooses between the template's plural forms. */
export function say(name, values = {}) {
  let template = wording.templates[name];
  if (template === undefined) throw new Error(`There is no template ${name} in wording.json.`);
  if (typeof template !== "string") template = template[values.count === 1 ? "one" : "other"];
  return template.replace(/\{(\w+)\}/g, (_, placeholder) => {
    if (!(placeholder in values)) {
      throw new Error(`Template ${name} needs a value for ${placeholder}.`);
    }
    return String(values[placeholder]);
  });
}

/** The indefinite article of a noun: "an" before a vowel, else "a". */
export const article = (noun) => ("aeiou".includes(noun[0]) ? "an" : "a");

/** Text with its first letter in upper case and the others as they are. */
export const capitalized = (text) => text[0].toUpperCase() + text.slice(1);
