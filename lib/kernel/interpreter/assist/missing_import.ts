import { type AssistSources, importOf } from "./sources.ts";

/**
 * Says how to import a name that a cell lacked, where the project exports it.
 *
 * @param ename Name of the error.
 * @param message Its message.
 * @param sources What the session knows.
 * @returns A line for the person; `null` where there is nothing to say.
 */
export function missingImport(
  ename: string,
  message: string,
  { project, index }: Pick<AssistSources, "project" | "index">,
): string | null {
  const name = /^([\p{L}_$][\p{L}\p{N}_$]*) is not defined$/u.exec(message)
    ?.[1];
  if (ename !== "ReferenceError" || !name || project === null) return null;
  if (!index.names(project).includes(name)) return null;
  return `'${name}' is in "${project}": ${importOf(name, project)}`;
}
