import { encodeHex } from "@std/encoding/hex";
import { dirname } from "@std/path";
import { writeNew } from "../files/mod.ts";
import { stateFolder } from "../runtime/mod.ts";

/**
 * Where the key lies with which runs on this machine are signed: outside of
 * every notebook's reach.
 */
export function runKeyFile(): string | null {
  const folder = stateFolder();
  return folder === null ? null : `${folder}/run.key`;
}

/**
 * The key of a file, made where there is none.
 *
 * @param path The file; only its owner can read it.
 * @returns The key, or `null` where it can be neither read nor made.
 */
export async function runKey(path: string | null): Promise<CryptoKey | null> {
  if (path === null) return null;
  const text = await readKey(path) ?? await makeKey(path);
  if (text === null) return null;
  return await crypto.subtle.importKey(
    "raw",
    new TextEncoder().encode(text),
    { name: "HMAC", hash: "SHA-256" },
    false,
    ["sign", "verify"],
  );
}

async function readKey(path: string): Promise<string | null> {
  const text = await Deno.readTextFile(path).catch(() => "");
  return /^[0-9a-f]{64}\n$/.test(text) ? text.trim() : null;
}

async function makeKey(path: string): Promise<string | null> {
  const text = encodeHex(crypto.getRandomValues(new Uint8Array(32)));
  try {
    await Deno.mkdir(dirname(path), { recursive: true, mode: 0o700 });
    await writeNew(path, `${text}\n`, 0o600);
    return text;
  } catch {
    // Another run was quicker, or nothing can be written there.
    return await readKey(path);
  }
}
