import { type AssistSources, doorOf, importOf } from "./sources.ts";

/**
 * Says how to import a name that a cell lacked, or looked for behind another
 * door, where the project exports it.
 *
 * @param ename Name of the error.
 * @param message Its message.
 * @param sources What the session knows.
 * @returns A line for the person; `null` where there is nothing to say.
 */
export function missingImport(
  ename: string,
  message: string,
  sources: Pick<AssistSources, "doors" | "index">,
): string | null {
  const name =
    (ename === "ReferenceError"
      ? /^([\p{L}_$][\p{L}\p{N}_$]*) is not defined$/u
      : /^The module "[^"]*" has no export named "([\p{L}_$][\p{L}\p{N}_$]*)"/u)
      .exec(message)?.[1];
  const door = name === undefined ? null : doorOf(name, sources);
  if (name === undefined || door === null) return null;
  return `'${name}' is in "${door}": ${importOf(name, door)}`;
}
