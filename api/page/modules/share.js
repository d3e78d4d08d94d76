// A link that holds the brief itself, after the `#`: a browser never sends that part to anyone.

async function through(bytes, stream) {
  return new Uint8Array(await new Response(new Blob([bytes]).stream().pipeThrough(stream)).arrayBuffer());
}

export async function linkOfBrief(brief) {
  const bytes = await through(new TextEncoder().encode(JSON.stringify(brief)), new CompressionStream("deflate-raw"));
  const text = btoa(Array.from(bytes, (byte) => String.fromCharCode(byte)).join(""));
  return `${location.origin}/#brief=${text.replaceAll("+", "-").replaceAll("/", "_").replaceAll("=", "")}`;
}

export async function briefOfLink(hash) {
  const text = hash.slice("#brief=".length).replaceAll("-", "+").replaceAll("_", "/");
  const bytes = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
  return JSON.parse(new TextDecoder().decode(await through(bytes, new DecompressionStream("deflate-raw"))));
}
