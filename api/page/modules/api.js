// The one place that talks to the server: only its public JSON API.

const KEY = "weekwright.key";
const HURRY_MS = [300, 1000, 2000, 4000];

/** What went wrong: `offline` (no answer), or a problem of the server with its faults. */
export class Trouble extends Error {
  constructor(problem, { offline = false, status = 0 } = {}) {
    super(problem.detail ?? problem.title ?? "");
    this.problem = problem;
    this.offline = offline;
    this.status = status;
    this.faults = problem.faults ?? [];
  }
}

export const key = {
  get: () => sessionStorage.getItem(KEY) ?? "",
  set: (value) => sessionStorage.setItem(KEY, value),
};

const authorised = () => (key.get() ? { Authorization: `Bearer ${key.get()}` } : {});

async function sent(path, options = {}) {
  let response;
  try {
    response = await fetch(path, { ...options, headers: { ...authorised(), ...options.headers } });
  } catch (error) {
    if (error.name === "AbortError") throw error;
    throw new Trouble({ title: "offline" }, { offline: true });
  }
  if (response.ok) return response;
  const problem = await response.json().catch(() => ({ title: response.statusText, detail: `${response.status}` }));
  throw new Trouble(problem, { status: response.status });
}

export const read = async (path, options) => (await sent(path, options)).json();
export const readBlob = async (path, accept) => (await sent(path, { headers: { Accept: accept } })).blob();

/** Names one act of a person, so that sending it again begins nothing new. */
export const newAct = () => Array.from(crypto.getRandomValues(new Uint8Array(12)), (byte) => byte.toString(16)).join("");

/** Ask for work: a plan or an answer. `wait` seconds for it to be ready at once. */
export function begin(path, body, { act = newAct(), wait = 1, signal, type = "application/json" } = {}) {
  const text = typeof body === "string" ? body : JSON.stringify(body);
  const headers = { "Content-Type": type, "Idempotency-Key": `"${act}"`, Prefer: `wait=${wait}` };
  return read(path, { method: "POST", body: text, headers, signal });
}

export const stop = (resource) => read(resource.links.self, { method: "DELETE" });

export const busyTimes = (calendar, week) =>
  read(`/v1/busy-times?${new URLSearchParams({ start: week.start, zone: week.zone ?? "UTC" })}`, {
    method: "POST",
    body: calendar,
    headers: { "Content-Type": "text/calendar" },
  });

const ended = (resource) => resource.ended_at !== null;

/** Follow work to its end by server-sent events; lost connections are taken up again where they broke off. */
export async function follow(resource, onProgress, signal) {
  let seen = "";
  for (let tries = 0; !ended(resource); ) {
    try {
      const response = await sent(resource.links.events, { signal, headers: seen ? { "Last-Event-ID": seen } : {} });
      if (response.status === 204) break;
      for await (const event of eventsOf(response.body)) {
        tries = 0;
        seen = event.id ?? seen;
        if (event.event === "progress") onProgress(JSON.parse(event.data));
        if (event.event === "end" || event.event === "erased") return read(resource.links.self, { signal });
      }
    } catch (error) {
      if (!error.offline && error.name !== "TypeError") throw error; // a stream that breaks off is a TypeError
    }
    if (tries >= HURRY_MS.length) throw new Trouble({ title: "offline" }, { offline: true });
    await new Promise((resolve) => setTimeout(resolve, HURRY_MS[tries]));
    tries += 1;
  }
  return ended(resource) ? resource : read(resource.links.self, { signal });
}

/** The events of a stream, as the HTML standard's section on server-sent events parses them. */
async function* eventsOf(body) {
  const reader = body.pipeThrough(new TextDecoderStream()).getReader();
  let rest = "";
  for (;;) {
    const { value, done } = await reader.read();
    if (done) return;
    const blocks = (rest + value).split("\n\n");
    rest = blocks.pop();
    for (const block of blocks) {
      const event = {};
      for (const line of block.split("\n")) {
        const [, name, text] = /^(\w+): ?(.*)$/.exec(line) ?? [];
        if (name) event[name] = name === "data" && event.data ? `${event.data}\n${text}` : text;
      }
      if (event.data !== undefined) yield event;
    }
  }
}
