import { protectedNames } from "./protected_names.ts";

/**
 * Says what a refusal of a permission means for a notebook and how a person
 * can grant it.
 *
 * @param error What was thrown.
 * @param grantFile The file in which the person grants more.
 * @returns One or two sentences; `null` if it is no refusal.
 */
export function refusalHint(error: unknown, grantFile: string): string | null {
  if (!(error instanceof Error)) return null;
  if (/--cached-only is specified/.test(error.message)) {
    return packageHint(grantFile);
  }
  const found = /Requires (\w+) access(?: to (?:"([^"]*)"|<(\w+)>|([^,]+)))?/
    .exec(error.message);
  if (!found) return null;
  const [, kind = "", quoted, symbolic, bare] = found;
  // The loader of modules throws a plain TypeError.
  if (error.name !== "NotCapable" && kind !== "import") return null;
  const target = quoted ?? symbolic ?? bare ?? null;
  const name = target?.split(/[\\/]/).at(-1) ?? "";
  if (kind === "write" && protectedNames.includes(name)) {
    return `'${name}' is protected from notebooks; change it by hand`;
  }
  const what = `${actions[kind] ?? `use "${kind}"`} ${target ?? ""}`.trim();
  const grant = JSON.stringify({ "*": { [kind]: [target ?? "all"] } });
  const flag = `--allow-${kind}${target ? `=${target}` : ""}`;
  return `A notebook may not ${what} unless you allow it outside of the notebook: write ${grant} in ${grantFile}, or install the kernel with ${flag}; then restart the kernel`;
}

const actions: Record<string, string> = {
  read: "read",
  write: "write",
  net: "reach",
  env: "see the environment variable",
  run: "start the program",
  ffi: "load the library",
  sys: "ask the system for",
  import: "import modules from",
};

/** A name that is asked for is a word to the registry: the person decides. */
function packageHint(grantFile: string): string {
  const grant = JSON.stringify({ "*": { import: ["registry.npmjs.org"] } });
  return `A notebook loads the packages of the project's deno.json, as they were fetched; it may not fetch others unless you allow it outside of the notebook: write ${grant} in ${grantFile}, or install the kernel with --allow-import=registry.npmjs.org; then restart the kernel`;
}
