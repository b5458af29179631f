import { sha256Later } from "../runtime/mod.ts";

/** JSON with the keys of every object in alphabetical order and no spaces. */
export function canonicalJson(value: unknown): string {
  if (Array.isArray(value)) return `[${value.map(canonicalJson).join(",")}]`;
  if (typeof value === "object" && value !== null) {
    const entries = Object.entries(value)
      .filter(([, item]) => item !== undefined)
      .sort(([a], [b]) => a < b ? -1 : 1)
      .map(([key, item]) => `${JSON.stringify(key)}:${canonicalJson(item)}`);
    return `{${entries.join(",")}}`;
  }
  return JSON.stringify(value);
}

/** SHA-256 of the canonical JSON, in hex; `integrity` is left out. */
export async function digestOf(content: object): Promise<string> {
  const { integrity: _, ...rest } = content as { integrity?: unknown };
  const bytes = new TextEncoder().encode(canonicalJson(rest));
  return await sha256Later(bytes);
}
