import { nearestName } from "../../options/mod.ts";

/**
 * Refuses fields that have no meaning, with the name that may be meant.
 *
 * @param own What stands in the file.
 * @param known The fields that there are.
 * @param fail Throws; told why.
 */
export function refuseUnknownFields(
  own: Readonly<Record<string, unknown>>,
  known: readonly string[],
  fail: (why: string) => never,
): void {
  for (const field of Object.keys(own)) {
    if (known.includes(field)) continue;
    const near = nearestName(field, known);
    fail(
      `there is no field '${field}'${
        near === null ? "." : `: '${near}' was meant?`
      } There are ${known.join(", ")}`,
    );
  }
}
