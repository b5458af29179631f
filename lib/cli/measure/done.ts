import type { FileOutcome } from "../../batch/mod.ts";
import { sha256Of } from "../../runtime/mod.ts";
import type { MeasureTask } from "./arguments.ts";

/** What an output file holds of earlier runs. */
export interface Done {
  /** Files measured in the way that is asked for now, and unchanged since. */
  readonly files: ReadonlySet<string>;
  /** Files measured in another way or changed since, with what differs. */
  readonly outdated: ReadonlyMap<string, readonly string[]>;
}

/** The settings of a run as its lines carry them, in SI units. */
export type Settings = Readonly<Record<string, unknown>>;

/** How files are measured, with the hash of a calibration record. */
export async function settingsOf(task: MeasureTask): Promise<Settings> {
  const { record, options, channels, window, ...rest } = task;
  const all = { ...rest, ...channels, ...window, ...options };
  if (record === null) return { ...all, record: null };
  const bytes = await Deno.readFile(record).catch(() => new Uint8Array());
  return { ...all, record: { path: record, sha256: sha256Of(bytes) } };
}

/** A file as it is now; `null` where it cannot be looked at. */
export async function sourceOf(
  file: string,
): Promise<NonNullable<FileOutcome["source"]> | null> {
  try {
    const { size, mtime } = await Deno.stat(file);
    return { size, modified: mtime?.getTime() ?? 0 };
  } catch {
    return null;
  }
}

/**
 * Reads which files an earlier run measured; the last line of a file counts, a
 * torn one does not.
 *
 * @param output File with the JSON lines; it need not be there.
 * @param files What is to be measured now.
 * @param settings How.
 */
export async function readDone(
  output: string,
  files: readonly string[],
  settings: Settings,
): Promise<Done> {
  const last = new Map<string, FileOutcome>();
  for (const line of (await textOf(output)).split("\n")) {
    try {
      const outcome = JSON.parse(line) as FileOutcome;
      if (outcome.status === "measured") last.set(outcome.file, outcome);
      else last.delete(outcome.file);
    } catch {
      continue;
    }
  }
  const done = new Set<string>();
  const outdated = new Map<string, string[]>();
  for (const file of files) {
    const outcome = last.get(file);
    if (outcome === undefined) continue;
    const different = differences(outcome.settings ?? {}, settings);
    const now = await sourceOf(file);
    if (JSON.stringify(now) !== JSON.stringify(outcome.source ?? null)) {
      different.push("the file");
    }
    if (different.length === 0) done.add(file);
    else outdated.set(file, different);
  }
  return { files: done, outdated };
}

/** Names of the settings that differ. */
function differences(before: Settings, now: Settings): string[] {
  const names = new Set([...Object.keys(before), ...Object.keys(now)]);
  return [...names].filter((name) =>
    JSON.stringify(before[name]) !== JSON.stringify(now[name])
  );
}

async function textOf(output: string): Promise<string> {
  try {
    return await Deno.readTextFile(output);
  } catch (error) {
    if (error instanceof Deno.errors.NotFound) return "";
    throw error;
  }
}
