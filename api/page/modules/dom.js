// Elements are made from parts, never from text: what a person typed can only ever be text.

const SVG = "http://www.w3.org/2000/svg";

function dressed(node, attributes, children) {
  for (const [name, value] of Object.entries(attributes ?? {})) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
    else if (name === "value" || name === "checked" || name === "selected") node[name] = value;
    else if (name === "vars") for (const [key, part] of Object.entries(value)) node.style.setProperty(key, part);
    else node.setAttribute(name, value === true ? "" : String(value));
  }
  node.append(...children.flat(Infinity).filter((child) => child !== null && child !== undefined && child !== false));
  return node;
}

export const h = (tag, attributes, ...children) => dressed(document.createElement(tag), attributes, children);
export const s = (tag, attributes, ...children) => dressed(document.createElementNS(SVG, tag), attributes, children);

/** Put new content into a node; the focus stays on the element of the same id, opened parts stay open. */
export function fill(node, ...children) {
  const focused = node.contains(document.activeElement) ? document.activeElement.id : "";
  const open = new Map([...node.querySelectorAll("details[id]")].map((each) => [each.id, each.open]));
  node.replaceChildren(...children.flat(Infinity).filter(Boolean));
  for (const each of node.querySelectorAll("details[id]")) if (open.has(each.id)) each.open = open.get(each.id);
  if (focused) document.getElementById(focused)?.focus({ preventScroll: true });
}

/** A listener: up, down, home and end go from one to the next of the things that a selector finds in a list. */
export const arrows = (selector) => (event) => {
  const all = [...event.currentTarget.querySelectorAll(selector)].filter((each) => each.checkVisibility());
  const now = all.indexOf(event.target);
  const to = { ArrowDown: now + 1, ArrowUp: now - 1, Home: 0, End: all.length - 1 }[event.key];
  if (now < 0 || to === undefined || !all[to]) return;
  event.preventDefault();
  all[to].focus();
};

const MOST_WORDS = 8, MOST_LETTERS = 20; // of a title in the name of a file

let count = 0;
export const unique = (stem) => `${stem}-${(count += 1)}`;

export function button(text, onclick, attributes = {}) {
  return h("button", { type: "button", onclick, ...attributes }, text);
}

/** A name for a file: the title in letters and digits that every system takes, and what it holds, `week.ics`. */
export function fileName(title, what) {
  const words = String(title ?? "").normalize("NFC").match(/[\p{L}\p{M}\p{N}]+/gu) ?? [];
  return [...words.slice(0, MOST_WORDS).map((each) => each.slice(0, MOST_LETTERS)), what].join("-");
}

export function download(name, blob) {
  const link = h("a", { href: URL.createObjectURL(blob), download: name });
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10_000);
}
