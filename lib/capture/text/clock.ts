const clock = /^(\d{1,3}):(\d{2}):(\d{2}(?:[.,]\d+)?)$/;
const dateTime =
  /^(\d{4})-(\d{2})-(\d{2})[T ](\d{2}):(\d{2}):(\d{2})(?:[.,](\d+))?\s*(Z|[-+]\d{2}:?\d{2})?$/;

/**
 * Reads a time of day (`12:30:01.250`) or an ISO 8601 date and time
 * (`2024-05-01T12:30:01.250Z`).
 *
 * @param text The field.
 * @returns Seconds since midnight or since 1970 (without zone: taken as UTC),
 * in s, or `undefined` if it is neither.
 */
export function parseClock(text: string): number | undefined {
  const field = text.trim().replace(/^"(.*)"$/, "$1").trim();
  if (field.length > 64) return undefined;
  const time = clock.exec(field);
  if (time !== null) {
    return Number(time[1]) * 3600 + Number(time[2]) * 60 +
      Number(time[3]!.replace(",", "."));
  }
  // A date in another order: the time of day is enough.
  const otherDate = /^\d{1,2}[./-]\d{1,2}[./-]\d{2,4}[T ]+(.*)$/.exec(field);
  if (otherDate !== null) return parseClock(otherDate[1]!);
  const iso = dateTime.exec(field);
  if (iso === null) return undefined;
  const [, year, month, day, hour, minute, second, fraction = "0", zone = "Z"] =
    iso;
  const whole = Date.parse(
    `${year}-${month}-${day}T${hour}:${minute}:${second}${
      zone === "Z" ? "Z" : zone.replace(/(\d{2}):?(\d{2})$/, "$1:$2")
    }`,
  );
  if (!Number.isFinite(whole)) return undefined;
  return whole / 1000 + Number(`0.${fraction}`);
}
