import type { GrantKind, Grants } from "../session/mod.ts";

/**
 * @param flags Permission flags as on the command line, such as
 * `"--allow-net=localhost:8000"`.
 * @returns The same, as the session takes them.
 */
export function grantsOfFlags(flags: readonly string[]): Grants {
  const grants: Partial<Record<GrantKind, string[]>> = {};
  for (const flag of flags) {
    const [name = "", list] = flag.replace(/^--allow-/, "").split(/=(.*)/s);
    const granted = list === undefined ? ["all"] : list.split(",");
    (grants[name as GrantKind] ??= []).push(...granted);
  }
  return grants;
}
