// The week's clock: hours since Monday 00:00 on the wall of the week's zone; names and clocks of the reader's locale.

export const DAYS = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"];
export const WEEK_HOURS = 168;
const HOUR = 3_600_000;
const reference = Date.UTC(2024, 0, 1); // a Monday

const inUtc = (options) => new Intl.DateTimeFormat(undefined, { ...options, timeZone: "UTC" });
const long = inUtc({ weekday: "long" });
const short = inUtc({ weekday: "short" });
const clock = inUtc({ hour: "numeric", minute: "2-digit" });
const hourOnly = inUtc({ hour: "numeric" });
const dated = inUtc({ weekday: "long", day: "numeric", month: "long" });

export const dayName = (number) => long.format(reference + number * 24 * HOUR);
export const dayShort = (number) => short.format(reference + number * 24 * HOUR);
export const clockOf = (hours) => clock.format(reference + hours * HOUR);
/** A whole hour on an axis, as short as the locale writes it: `18`, `6 PM`. */
export const hourOf = (hour) => hourOnly.formatToParts(reference + hour * HOUR).filter((part) => part.type === "hour" || part.type === "dayPeriod").map((part) => part.value).join(" ");
export const dayAndClock = (hours) => `${dayName(Math.floor(hours / 24) % 7)} ${clockOf(hours % 24)}`;

/** Hours of a clock text, `17:30` or `17:30:00`; an opening may end at the last second of a day. */
export function hoursOf(text) {
  const [hours, minutes, seconds] = String(text).split(":").map(Number);
  const found = hours + (minutes || 0) / 60;
  return seconds === 59 && minutes === 59 ? hours + 1 : found;
}

export function textOf(hours) {
  const minutes = Math.round(hours * 60);
  if (minutes >= 1440) return "24:00";
  return `${String(Math.floor(minutes / 60)).padStart(2, "0")}:${String(minutes % 60).padStart(2, "0")}`;
}

/** The Monday of a week that is still whole: today on a Monday morning, else the next. */
export function comingMonday(now = new Date()) {
  const day = (now.getDay() + 6) % 7;
  const days = day === 0 && now.getHours() < 12 ? 0 : 7 - day;
  const monday = new Date(Date.UTC(now.getFullYear(), now.getMonth(), now.getDate() + days));
  return monday.toISOString().slice(0, 10);
}

export class WeekClock {
  constructor(week) {
    this.monday = Date.parse(`${week?.start}T00:00:00Z`) || reference;
    const options = { hourCycle: "h23", year: "numeric", month: "numeric", day: "numeric", hour: "numeric", minute: "numeric" };
    try {
      this.wallParts = new Intl.DateTimeFormat("en", { ...options, timeZone: week?.zone ?? "UTC" });
    } catch {
      this.wallParts = new Intl.DateTimeFormat("en", { ...options, timeZone: "UTC" }); // the zone is still being typed
    }
  }

  /** Hours since Monday of a moment: with an offset an instant, without one a wall time of the week's zone. */
  hours(text) {
    if (!/(Z|[+-]\d\d:?\d\d)$/.test(text)) return (Date.parse(`${text}Z`) - this.monday) / HOUR;
    return this.ofInstant(Date.parse(text));
  }

  ofInstant(milliseconds) {
    const part = Object.fromEntries(this.wallParts.formatToParts(milliseconds).map((each) => [each.type, Number(each.value)]));
    return (Date.UTC(part.year, part.month - 1, part.day, part.hour, part.minute) - this.monday) / HOUR;
  }

  /** Where the wall clock stands some elapsed hours after a moment: a change of the clock in between is seen. */
  after(text, hours) {
    return this.ofInstant(Date.parse(text) + hours * HOUR);
  }

  /** The wall clock's text of some hours since Monday, as a field for a moment takes it. */
  text(hours) {
    return new Date(this.monday + Math.round(hours * 60) * 60_000).toISOString().slice(0, 16);
  }

  date(day) {
    return dated.format(this.monday + day * 24 * HOUR);
  }
}
