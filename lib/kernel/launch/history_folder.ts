import { stateFolder } from "../../runtime/mod.ts";

/**
 * Where the history of all sessions is kept: `FRINGEBOOK_HISTORY` where it is
 * set (`off` for nowhere), else the platform's folder for the state of programs.
 *
 * @param env Environment variables.
 * @param os The platform.
 * @returns A folder, or `null` for nowhere.
 */
export function historyFolder(
  env: (name: string) => string | undefined = (name) => Deno.env.get(name),
  os: typeof Deno.build.os = Deno.build.os,
): string | null {
  const chosen = env("FRINGEBOOK_HISTORY");
  if (chosen === "off") return null;
  if (chosen !== undefined && chosen !== "") return chosen;
  const state = stateFolder(env, os);
  return state === null ? null : `${state}/history`;
}
