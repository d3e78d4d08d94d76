// Every word of the page comes from one file, so that it can be translated.

const LANGUAGES = ["en"]; // of the files text.<language>.json
let words = {};

/** The words in the first language of the reader's that there is; the page says which it is in. */
export async function loadWords() {
  const language = navigator.languages.map((each) => each.split("-")[0]).find((each) => LANGUAGES.includes(each)) ?? LANGUAGES[0];
  words = await (await fetch(`/page/text.${language}.json`)).json();
  document.documentElement.lang = words.language;
}

/** The text of a key, `{name}` filled in. With `n` the form that the language takes for that number. */
export function t(key, values = {}) {
  let found = words[key];
  if (found && typeof found === "object") {
    const form = new Intl.PluralRules(words.language).select(Number(values.n));
    found = found[form] ?? found.other;
  }
  if (found === undefined) return key;
  return found.replace(/\{(\w+)\}/g, (whole, name) => (name in values ? format(values[name]) : whole));
}

/** A word for a key of the data (`rear_delts`), from the file or the key itself. */
export const word = (group, key) => words[`${group}.${key}`] ?? String(key).replaceAll("_", " ");

export const hasWord = (group, key) => `${group}.${key}` in words;

/** Hours in words, to the minute. */
export function hoursText(hours) {
  const minutes = Math.round(hours * 60);
  return minutes % 60 ? t("hours.minutes", { n: Math.floor(minutes / 60), minutes: minutes % 60 }) : t("hours", { n: minutes / 60 });
}

const number = new Intl.NumberFormat(undefined, { maximumFractionDigits: 2 });
export const format = (value) => (typeof value === "number" ? number.format(value) : String(value));
