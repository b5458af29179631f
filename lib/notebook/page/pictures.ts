import {
  dirname,
  extname,
  isAbsolute,
  join,
  resolve,
  SEPARATOR,
} from "@std/path";
import { encodeBase64 } from "@std/encoding/base64";
import type { NotebookCell } from "../notebook.ts";
import type { ImageSource } from "./markdown.ts";

/** Kinds of pictures by the end of their name, and how their bytes begin. */
const kinds: Readonly<Record<string, { mime: string; begins: RegExp }>> = {
  ".png": { mime: "image/png", begins: /^\x89PNG\r\n/ },
  ".jpg": { mime: "image/jpeg", begins: /^\xff\xd8\xff/ },
  ".jpeg": { mime: "image/jpeg", begins: /^\xff\xd8\xff/ },
  ".gif": { mime: "image/gif", begins: /^GIF8[79]a/ },
  ".webp": { mime: "image/webp", begins: /^RIFF[\s\S]{4}WEBP/ },
  ".svg": {
    mime: "image/svg+xml",
    begins: /^(?:\xef\xbb\xbf)?\s*<(?:\?xml|!--|!doctype svg|svg)[\s\S]*/i,
  },
};

/** Largest picture that is put into a page, in bytes. */
const largest = 20_000_000;

/**
 * Pictures of a markdown cell: its attachments, and files that are pictures and
 * lie in the notebook's folder, not behind a link that leads out of it.
 *
 * @param cell The cell.
 * @param source Its text.
 * @param path Path of the notebook; `null` where it has none.
 * @returns What finds them.
 */
export async function picturesOf(
  cell: NotebookCell,
  source: string,
  path: string | null,
): Promise<ImageSource> {
  const found = attachmentsOf(cell);
  if (path !== null) {
    const folder = resolve(dirname(path));
    for (
      const [, address = ""] of source.matchAll(
        /(?:!\[[^\]]{0,1000}\]\(|<img[^>]{0,1000}\ssrc=["']?)([^)"'\s>]{1,1000})/g,
      )
    ) {
      const data = found.has(address) ? null : await readPicture(
        folder,
        address,
      );
      if (data !== null) found.set(address, data);
    }
  }
  return (address) =>
    found.get(address) ?? found.get(decoded(address)) ??
      (/^data:image\/(?:png|jpeg|gif|webp|svg\+xml)[;,]/.test(address)
        ? address
        : null);
}

function attachmentsOf(cell: NotebookCell): Map<string, string> {
  const found = new Map<string, string>();
  const mimes = new Set(Object.values(kinds).map(({ mime }) => mime));
  for (const [name, bundle] of entriesOf(cell["attachments"])) {
    for (const [mime, value] of entriesOf(bundle)) {
      const data = Array.isArray(value) ? value.join("") : String(value);
      const base64 = data.replace(/\s+/g, "");
      if (mimes.has(mime) && /^[A-Za-z0-9+/]+=*$/.test(base64)) {
        found.set(`attachment:${name}`, `data:${mime};base64,${base64}`);
        break;
      }
    }
  }
  return found;
}

/** A picture file as `data:` address; `null` where it is none, or elsewhere. */
async function readPicture(
  folder: string,
  address: string,
): Promise<string | null> {
  const name = decoded(address);
  const kind = kinds[extname(name).toLowerCase()];
  if (!kind || /^[a-z][a-z0-9+.-]*:/i.test(name) || isAbsolute(name)) {
    return null;
  }
  try {
    const base = await Deno.realPath(folder);
    const path = await Deno.realPath(join(folder, name));
    if (!path.startsWith(base.endsWith(SEPARATOR) ? base : base + SEPARATOR)) {
      return null;
    }
    // The file that a link names must be called a picture as well.
    if (kinds[extname(path).toLowerCase()] !== kind) return null;
    const { isFile, size } = await Deno.lstat(path);
    if (!isFile || size > largest) return null;
    const bytes = await Deno.readFile(path);
    const head = String.fromCharCode(...bytes.subarray(0, 256));
    if (!kind.begins.test(head)) return null;
    return `data:${kind.mime};base64,${encodeBase64(bytes)}`;
  } catch {
    return null;
  }
}

function decoded(address: string): string {
  try {
    return decodeURI(address);
  } catch {
    return address;
  }
}

function entriesOf(value: unknown): [string, unknown][] {
  return typeof value === "object" && value !== null
    ? Object.entries(value)
    : [];
}
