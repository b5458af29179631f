import { decodeHex, encodeHex } from "@std/encoding/hex";
import { join } from "@std/path";
import { libraryVersion } from "../result/mod.ts";
import { sha256Later } from "../runtime/mod.ts";
import { cellTags, joinText, type Notebook } from "./notebook.ts";
import { readNotebook } from "./read_notebook.ts";
import { formatNotebook } from "./write_notebook.ts";

/** Key of this project's part of a notebook's metadata. */
const metadataKey = "fringebook";

/** How a run ended, as it stands in the executed notebook. */
interface RunNote {
  readonly status: "ok" | "failed";
  /** Of code and parameters. */
  readonly fingerprint: string;
  /** Of the files beside the notebook; `null` where they are too many. */
  readonly inputs: string | null;
  readonly version: string;
  /** HMAC-SHA-256 over all this and the whole notebook; `null` without a key. */
  readonly signature: string | null;
}

/**
 * Notes in a notebook how its run ended, signed with the machine's key.
 *
 * @param notebook Is changed; it must not change afterwards.
 * @param run How it ended and with what.
 * @param key The key; `null` for no signature, so that it will run anew.
 */
export async function noteRun(
  notebook: Notebook,
  run: Pick<RunNote, "status" | "fingerprint" | "inputs">,
  key: CryptoKey | null,
): Promise<void> {
  const note = { ...run, version: libraryVersion };
  const signature = key === null ? null : encodeHex(
    await crypto.subtle.sign("HMAC", key, signedBytes(notebook, note)),
  );
  notebook.metadata[metadataKey] = {
    ...ownMetadata(notebook),
    run: { ...note, signature },
  };
}

/** SHA-256 of the code and the parameters of a notebook. */
export async function fingerprintOf(
  notebook: Notebook,
  parameters: Readonly<Record<string, unknown>>,
): Promise<string> {
  const code = notebook.cells
    .filter((cell) =>
      cell.cell_type === "code" &&
      !cellTags(cell).includes("set-by-run")
    )
    .map(({ source }) => joinText(source));
  return await sha256OfJson([code, parameters]);
}

/** Files beside a notebook that are compared at most. */
const mostFiles = 20_000;

/**
 * SHA-256 of names, sizes and times of the files that a notebook may have read in
 * its own folder; notebooks, pages and hidden files are none.
 *
 * @param folder Folder of the notebook.
 * @returns The hash, or `null` where there are too many to look at.
 */
export async function inputsOf(folder: string): Promise<string | null> {
  const files: [string, number, number][] = [];
  const walk = async (inner: string): Promise<boolean> => {
    for await (const entry of Deno.readDir(join(folder, inner))) {
      const { name } = entry;
      if (name.startsWith(".")) continue;
      const place = join(inner, name);
      if (entry.isDirectory) {
        if (!await walk(place)) return false;
      } else if (!/\.(ipynb|html)$/.test(name)) {
        const { size, mtime } = await Deno.lstat(join(folder, place));
        files.push([place, size, mtime?.getTime() ?? 0]);
        if (files.length > mostFiles) return false;
      }
    }
    return true;
  };
  try {
    if (!await walk("")) return null;
  } catch {
    return null;
  }
  return await sha256OfJson(files.sort(([a], [b]) => a < b ? -1 : 1));
}

/**
 * A good earlier run of the same code, parameters and files that this machine
 * made and nobody has changed since.
 *
 * @param path The executed notebook.
 * @param expected Code and files of now.
 * @param key The machine's key.
 * @returns The executed notebook, or `null`.
 */
export async function earlierRun(
  path: string,
  expected: Pick<RunNote, "fingerprint" | "inputs">,
  key: CryptoKey | null,
): Promise<Notebook | null> {
  if (key === null || expected.inputs === null) return null;
  try {
    const notebook = await readNotebook(path);
    const { run } = ownMetadata(notebook) as { run?: Partial<RunNote> };
    const { fingerprint, inputs } = expected;
    const wanted = {
      status: "ok" as const,
      fingerprint,
      inputs,
      version: libraryVersion,
    };
    const { signature, ...note } = run ?? {};
    for (const [name, value] of Object.entries(wanted)) {
      if (note[name as keyof typeof wanted] !== value) return null;
    }
    const good = typeof signature === "string" && await crypto.subtle.verify(
      "HMAC",
      key,
      decodeHex(signature),
      signedBytes(notebook, wanted),
    );
    return good ? notebook : null;
  } catch {
    return null;
  }
}

function ownMetadata(notebook: Notebook): Record<string, unknown> {
  const own = notebook.metadata[metadataKey];
  return typeof own === "object" && own !== null ? { ...own } : {};
}

/** What is signed: the note, and the notebook as its file holds it without it. */
function signedBytes(
  notebook: Notebook,
  note: Omit<RunNote, "signature">,
): Uint8Array<ArrayBuffer> {
  const { run: _, ...rest } = ownMetadata(notebook);
  const metadata = { ...notebook.metadata, [metadataKey]: rest };
  const text = formatNotebook({ ...notebook, metadata });
  const { status, fingerprint, inputs, version } = note;
  return new TextEncoder().encode(
    JSON.stringify([status, fingerprint, inputs, version, text]),
  );
}

async function sha256OfJson(value: unknown): Promise<string> {
  return await sha256Later(new TextEncoder().encode(JSON.stringify(value)));
}
