import { encodeHex } from "@std/encoding/hex";
import type { ZooRecord } from "./record.ts";

/** What `zoo.json` holds. */
export interface ZooRun {
  readonly kind: "work" | "kept";
  /** What the records depend on beside the seeds; see {@linkcode settingsOfRun}. */
  readonly settings?: string;
  readonly records: readonly ZooRecord[];
}

/** Files whose change may change a record. */
const sources = /\.(ts|py)$/;
/** Where they lie, in the project. */
const folders = ["lib", "tests/zoo"];

/**
 * What the records of a run depend on beside the seeds, as one digest: the text
 * of the library and of the zoo, and what was asked for.
 *
 * @param root The project's folder, as a URL with a slash at the end.
 * @param asked What was asked for, such as changes of the draw.
 */
export async function settingsOfRun(
  root: URL,
  asked: unknown,
): Promise<string> {
  const texts: string[] = [JSON.stringify(asked)];
  const walk = async (folder: string) => {
    const entries = [...Deno.readDirSync(new URL(folder, root))];
    for (const { name, isDirectory } of entries.sort(byName)) {
      const path = `${folder}/${name}`;
      if (isDirectory) await walk(path);
      else if (sources.test(name)) {
        texts.push(path, await Deno.readTextFile(new URL(path, root)));
      }
    }
  };
  for (const folder of folders) await walk(folder);
  const bytes = new TextEncoder().encode(texts.join("\0"));
  return encodeHex(await crypto.subtle.digest("SHA-256", bytes));
}

function byName(a: { name: string }, b: { name: string }): number {
  return a.name < b.name ? -1 : 1;
}

/** Runs of the parts of an array job, joined. */
export interface JoinedRuns {
  readonly kind: ZooRun["kind"];
  /** Each bench once, in the order of `names`, others after them. */
  readonly records: readonly ZooRecord[];
  /** Benches of `names` that no part holds. */
  readonly missing: readonly string[];
  /** Benches that two parts hold with other verdicts: the later part counts. */
  readonly conflicts: readonly string[];
}

/**
 * Joins the runs of parts: each bench once.
 *
 * @param parts Name and content of each file.
 * @param names The benches of the whole.
 * @throws {RangeError} If the parts are of other seeds, or were made with another
 * text of library or zoo, or with other flags.
 */
export function joinRuns(
  parts: readonly { readonly fileName: string; readonly run: ZooRun }[],
  names: readonly string[],
): JoinedRuns {
  const [first] = parts;
  if (first === undefined) {
    throw new RangeError("Cannot join runs of the zoo as no file was named");
  }
  const found = new Map<string, ZooRecord>();
  const conflicts: string[] = [];
  for (const { fileName, run } of parts) {
    const { kind, settings } = first.run;
    if (run.kind !== kind || run.settings !== settings) {
      throw new RangeError(
        `Cannot join ${fileName} with ${first.fileName} as ${
          run.kind !== kind
            ? "they have other seeds"
            : "they were made with other flags, or another text of the library or the zoo"
        }: run its part again`,
      );
    }
    for (const record of run.records) {
      const before = found.get(record.name);
      if (before && verdictsOf(before) !== verdictsOf(record)) {
        conflicts.push(`${record.name} in ${fileName}`);
      }
      found.set(record.name, record);
    }
  }
  const places = new Map(names.map((name, place) => [name, place]));
  const placeOf = ({ name }: ZooRecord) => places.get(name) ?? names.length;
  return {
    kind: first.run.kind,
    records: [...found.values()].sort((a, b) => placeOf(a) - placeOf(b)),
    missing: names.filter((name) => !found.has(name)),
    conflicts,
  };
}

/** What a bench came to, without the time that it took. */
function verdictsOf({ ours, scipy }: ZooRecord): string {
  return JSON.stringify([ours, scipy].map((verdict) => ({
    ...verdict,
    cpu: 0,
  })));
}
