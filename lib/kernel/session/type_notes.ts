import type { CellOutcome } from "../interpreter/mod.ts";
import type { Completion, ExecuteOutcome } from "../protocol/interpreter.ts";
import { type ModulePlace, TypeDesk } from "../types/mod.ts";
import { confinedCommand } from "../confine/mod.ts";
import { sessionEnvironment, typeCheckArguments } from "./command.ts";
import { dependencyCache } from "./dependency_cache.ts";
import { projectFolder } from "./project_folder.ts";
import type { SessionOptions } from "./session_options.ts";

/** Makes the desk that asks for types; its process starts when it is needed. */
export function createTypeDesk(
  { notebookFolder, reach, withheld }: Required<SessionOptions>,
): TypeDesk {
  return new TypeDesk(() => {
    const { imports } = JSON.parse(
      Deno.readTextFileSync(`${projectFolder}/deno.json`),
    ) as Pick<ModulePlace, "imports">;
    const place: ModulePlace = { notebookFolder, projectFolder, imports };
    const settings = JSON.stringify(place);
    return confinedCommand(Deno.execPath(), {
      args: typeCheckArguments({ notebookFolder, reach, withheld, settings }),
      clearEnv: true,
      env: sessionEnvironment(),
      stdin: "piped",
      stdout: "piped",
      stderr: "null",
    }, { read: [...reach.read, dependencyCache()], withheld });
  });
}

/** Puts what types say of the failing lines under the error. */
export async function withNotes(
  types: TypeDesk | null,
  code: string,
  outcome: CellOutcome,
): Promise<ExecuteOutcome> {
  if (outcome.status === "ok") {
    types?.add(code);
    return outcome;
  }
  const { failingLines, ...shown } = outcome;
  const { ename } = shown;
  if (types === null || ename === "KeyboardInterrupt") return shown;
  const notes = failingLines?.length > 0
    ? await types.notes({ code, lines: failingLines, ename })
    : [];
  const lines = notes.map(({ line, text }) =>
    `Type check, line ${line}: ${text}`
  );
  // What the cell declared before it failed may be used by later ones.
  if (ename !== "SyntaxError") types.add(code);
  return { ...shown, traceback: [...shown.traceback, ...lines] };
}

/** Adds members that only the types of the cell tell. */
export async function withMembers(
  types: TypeDesk | null,
  code: string,
  cursor: number,
  found: Completion,
): Promise<Completion> {
  if (types === null || found.matches.length > 0) return found;
  const typed = [...code].slice(0, cursor).join("");
  const [partial] = /[\p{L}\p{N}_$]*$/u.exec(typed)!;
  const before = typed.slice(0, typed.length - partial.length);
  if (!/\.\s*$/.test(before)) return found;
  const names = await types.members(code, typed.length);
  const matches = names.filter((name) => name.startsWith(partial));
  if (matches.length === 0) return found;
  return {
    matches,
    cursorStart: cursor - [...partial].length,
    cursorEnd: cursor,
    metadata: {},
  };
}
