// What the server says, in its own language: a screen reader is told which.

import { h } from "./dom.js";

export const SERVED = "en"; // the language of rules, catalogue and problems

/** Words of the server in an element of their own. */
export const toldIn = (tag, text, attributes = {}) => h(tag, { lang: SERVED, ...attributes }, text);
export const told = (text) => toldIn("span", text);

/** The name of a session: a person's own word, or the server's. */
export const sessionName = (brief, session) => (brief.kinds[session.kind]?.name ? session.name : told(session.name));
