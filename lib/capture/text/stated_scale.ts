import { parseQuantity } from "../../units/mod.ts";

const scaleKey =
  /^(?:(.*?)[ _-]+)?(?:scale(?: factor)?|conversion factor|multiplier|resolution|lsb(?: size)?|volts? per (?:count|bit|lsb))$/i;

/** A scale factor with a unit per count, for this channel or for all. */
export function statedScale(
  name: string,
  metadata: Readonly<Record<string, string>>,
): { unit: string; scale: number; key: string } | null {
  for (const [key, text] of Object.entries(metadata)) {
    const match = scaleKey.exec(key);
    if (match === null) continue;
    const whose = match[1];
    if (
      whose !== undefined && whose !== "" &&
      whose.toLowerCase() !== name.toLowerCase()
    ) continue;
    const perCount = /^(.*?)\s*(?:\/|per )\s*(?:count|counts|bit|lsb|code)$/i
      .exec(text);
    const quantity = parseQuantity(perCount?.[1] ?? text);
    if (quantity === null || quantity.value === 0) continue;
    if (quantity.unit === null || perCount === null) continue;
    return { unit: quantity.unit, scale: quantity.value, key };
  }
  return null;
}
