// HTML and SVG elements, made in one call each.

let idsMade = 0;
/** A notebook loads these modules anew for every panel, and counts alone would then meet. */
const OWN = Math.random().toString(36).slice(2, 10);

/** An id that no other element of the document has. */
export function newId() {
  idsMade += 1;
  return `climwin-${OWN}-${idsMade}`;
}

/** Without this attribute a notebook takes the arrow keys for itself. */
export const KEEP_KEYS = { "data-lm-suppress-shortcuts": "true" };

/**
 * Give an element attributes and children. "on..." attributes are listeners, `true` sets an
 * attribute without a value, `false` and undefined leave it out; null children are left out, and
 * nested lists of children are flattened.
 */
export function fill(element, attributes, children) {
  for (const [name, value] of Object.entries(attributes)) {
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else if (value === true) element.setAttribute(name, "");
    else if (value !== false && value !== undefined) element.setAttribute(name, value);
  }
  const present = children.flat(Infinity).filter((child) => child !== null && child !== undefined);
  element.append(...present);
  return element;
}

export const html = (tag, attributes = {}, ...children) =>
  fill(document.createElement(tag), attributes, children);

export const svg = (tag, attributes = {}, ...children) =>
  fill(document.createElementNS("http://www.w3.org/2000/svg", tag), attributes, children);

// --- shapes --------------------------------------------------------------------------------

export const label = (x, y, text, kind = "", anchor = "start") =>
  svg("text", { x, y, class: kind, "text-anchor": anchor }, String(text));

export const line = (x1, y1, x2, y2, kind) => svg("line", { x1, y1, x2, y2, class: kind });

export const box = (x, y, width, height, kind) =>
  svg("rect", { x, y, width: Math.max(width, 0), height: Math.max(height, 0), class: kind });

export const dot = (cx, cy, r, kind) => svg("circle", { cx, cy, r, class: kind });

/** Path data through points, broken where a value is missing. */
export function pathThrough(points) {
  let command = "M";
  let data = "";
  for (const [x, y] of points) {
    if (y === null || Number.isNaN(y)) {
      command = "M";
    } else {
      data += `${command}${x.toFixed(1)} ${y.toFixed(1)}`;
      command = "L";
    }
  }
  return data;
}

/** Path data of the area between two curves. */
export const areaBetween = (upper, lower) =>
  `${pathThrough(upper)}L${pathThrough([...lower].reverse()).slice(1)}Z`;

export const clamp = (value, low, high) => Math.min(Math.max(value, low), high);
