// Plain documents: JSON pointers (RFC 6901) and merge patches (RFC 7396).

export const parts = (pointer) =>
  pointer.replace(/^#/, "").split("/").slice(1).map((part) => decodeURIComponent(part).replaceAll("~1", "/").replaceAll("~0", "~"));

export const join = (pointer, part) => `${pointer}/${String(part).replaceAll("~", "~0").replaceAll("/", "~1")}`;

export const at = (document, pointer) => parts(pointer).reduce((found, part) => found?.[part], document);

/** The document with another value at a pointer; `undefined` takes it out. Missing objects on the way are made. */
export function placed(document, pointer, value) {
  const copy = structuredClone(document);
  const path = parts(pointer);
  const last = path.pop();
  let inside = copy;
  for (const part of path) inside = inside[part] ??= {};
  if (value === undefined && Array.isArray(inside)) inside.splice(Number(last), 1);
  else if (value === undefined) delete inside[last];
  else inside[last] = value;
  return copy;
}

const isObject = (value) => value !== null && typeof value === "object" && !Array.isArray(value);

export function merged(document, patch) {
  if (!isObject(patch)) return structuredClone(patch);
  const copy = isObject(document) ? structuredClone(document) : {};
  for (const [key, value] of Object.entries(patch)) {
    if (value === null) delete copy[key];
    else copy[key] = merged(copy[key], value);
  }
  return copy;
}

/** The merge patch that makes one document into another. */
export function patchOf(one, other) {
  const patch = {};
  for (const key of Object.keys(one)) if (other[key] === undefined) patch[key] = null;
  for (const [key, value] of Object.entries(other)) {
    if (sameDocument(one[key], value)) continue;
    patch[key] = isObject(one[key]) && isObject(value) ? patchOf(one[key], value) : structuredClone(value);
  }
  return patch;
}

/** The document without nulls: what an API writes out, a person did not say. What is left empty was said: a goal with
 * nothing but its muscle, equipment with nothing but its name. */
export function bare(value) {
  if (Array.isArray(value)) return value.map(bare);
  if (!isObject(value)) return value;
  return Object.fromEntries(Object.entries(value).filter(([, part]) => part !== null).map(([key, part]) => [key, bare(part)]));
}

export const sameDocument = (one, other) => JSON.stringify(one) === JSON.stringify(other);
