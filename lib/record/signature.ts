import { requireFields, requireText } from "../options/mod.ts";
import { decodeBase64, encodeBase64 } from "@std/encoding/base64";
import { dirname } from "@std/path/dirname";
import { writeNew } from "../files/mod.ts";
import { readTextUpTo, sha256Later } from "../runtime/mod.ts";
import { readRecord, verifyBeside } from "./chain.ts";
import { saveError } from "./file.ts";
import type { CalibrationRecord } from "./record.ts";
import { RecordError } from "./record_error.ts";

/** The signature of a record, as it lies beside it in `<record>.sig.json`. */
export interface RecordSignature {
  /** Algorithm of the signature. */
  readonly algorithm: "Ed25519";
  /** Name of the key's owner, such as the laboratory's; untrusted text. */
  readonly signedBy: string;
  /** When, ISO 8601. */
  readonly signedAt: string;
  /** Digest of the record that is signed. */
  readonly digest: string;
  /** Public key (RFC 8032), in base64. */
  readonly publicKey: string;
  /** Signature of the above, in base64. */
  readonly signature: string;
}

/** Name of the key's file in an error, never what it holds. */
const keyMark = "Fringebook signing key";

/** A key file as it is stored. */
interface KeyFile {
  readonly kind: typeof keyMark;
  readonly owner: string;
  readonly publicKey: string;
  readonly privateKey: string;
}

/**
 * Makes the signing key of a laboratory: an Ed25519 key (RFC 8032) of the
 * platform's own cryptography, in a file that only its owner can read.
 *
 * @param path Where to; an existing file is never overwritten.
 * @param owner Whose it is, such as the laboratory's name.
 * @returns The public key, in base64; the private one never leaves the file.
 * @throws {RecordError} If the file exists or cannot be written.
 *
 * @example
 * ```ts
 * import { createSigningKey } from "fringebook";
 * import { fingerprintOfKey } from "fringebook/record";
 * import { expect } from "vitest";
 *
 * const path = `${await Deno.makeTempDir()}/lab.key`;
 * const publicKey = await createSigningKey(path, "Teaching laboratory");
 * expect(await fingerprintOfKey(publicKey)).toMatch(/^[0-9a-f]{4}( [0-9a-f]{4}){7}$/);
 * ```
 */
export async function createSigningKey(
  path: string,
  owner: string,
): Promise<string> {
  const task = "make a signing key";
  requireText(path, "path", task);
  requireText(owner, "owner", task);
  if (owner.trim() === "") {
    throw new RangeError(
      "Cannot make a signing key as 'owner' is empty: say whose it is, such as the laboratory's name",
    );
  }
  const pair = await crypto.subtle.generateKey("Ed25519", true, [
    "sign",
    "verify",
  ]) as CryptoKeyPair;
  const exported = async (format: "raw" | "pkcs8", key: CryptoKey) =>
    encodeBase64(await crypto.subtle.exportKey(format, key));
  const file: KeyFile = {
    kind: keyMark,
    owner: owner.trim(),
    publicKey: await exported("raw", pair.publicKey),
    privateKey: await exported("pkcs8", pair.privateKey),
  };
  try {
    await Deno.mkdir(dirname(path), { recursive: true, mode: 0o700 });
    await writeNew(path, JSON.stringify(file, null, 2) + "\n", 0o600);
  } catch (error) {
    throw error instanceof Deno.errors.AlreadyExists
      ? new RecordError(
        "exists",
        `Cannot make the key '${path}' as it exists and keys are never overwritten: records that it signed could not be told any more`,
      )
      : saveError(path, error);
  }
  return file.publicKey;
}

/**
 * The fingerprint by which people compare public keys: the first 128 bits of its
 * SHA-256, in groups of four.
 *
 * @param publicKey The key, in base64.
 * @returns Text such as `"9f3a 01c4 …"`.
 *
 * @example
 * ```ts
 * import { fingerprintOfKey } from "fringebook/record";
 * import { expect } from "vitest";
 *
 * // The SHA-256 of nothing (FIPS 180-4)
 * expect(await fingerprintOfKey("")).toBe("e3b0 c442 98fc 1c14 9afb f4c8 996f b924");
 * ```
 */
export async function fingerprintOfKey(publicKey: string): Promise<string> {
  const hash = await sha256Later(decodeBase64(publicKey));
  return hash.slice(0, 32).match(/.{4}/g)!.join(" ");
}

/** Where the signature of a record's file lies. */
export function signaturePath(recordPath: string): string {
  return recordPath.replace(/\.json$/, "") + ".sig.json";
}

/**
 * Signs a record with a laboratory's key; the signature lies in a file of its own
 * beside it, so that the record stays as it is.
 *
 * @param recordPath Path of the record.
 * @param keyPath Path of the key of {@linkcode createSigningKey}.
 * @param at When it is signed.
 * @returns The signature, which was written.
 * @throws {RecordError} If the record is not in order or signed already, or the
 * key is none or can be read by others.
 *
 * @example
 * ```ts
 * import { signCalibrationRecord } from "fringebook";
 *
 * const sign = (path: string) => signCalibrationRecord(path, "lab.key");
 * ```
 */
export async function signCalibrationRecord(
  recordPath: string,
  keyPath: string,
  at: Date = new Date(),
): Promise<RecordSignature> {
  const record = await readRecord(recordPath);
  await verifyBeside(recordPath, record);
  const key = await readKey(keyPath);
  const privateKey = await crypto.subtle.importKey(
    "pkcs8",
    decodeBase64(key.privateKey),
    "Ed25519",
    false,
    ["sign"],
  );
  const content = {
    algorithm: "Ed25519" as const,
    signedBy: key.owner,
    signedAt: at.toISOString(),
    digest: record.integrity.digest,
    publicKey: key.publicKey,
  };
  const signature: RecordSignature = {
    ...content,
    signature: encodeBase64(
      await crypto.subtle.sign("Ed25519", privateKey, signedBytes(content)),
    ),
  };
  const path = signaturePath(recordPath);
  try {
    await writeNew(path, JSON.stringify(signature, null, 2) + "\n");
  } catch (error) {
    throw saveError(path, error);
  }
  return signature;
}

/**
 * Reads the signature that lies beside a record and verifies it.
 *
 * @param recordPath Path of the record.
 * @param record The record, as it was read from there.
 * @returns The signature, or `null` where the record is not signed. Whose key it
 * is, only a comparison of {@linkcode fingerprintOfKey} with what the laboratory
 * tells can show.
 * @throws {RecordError} If there is one that does not hold.
 *
 * @example
 * ```ts
 * import { loadCalibrationRecord } from "fringebook";
 * import { loadRecordSignature } from "fringebook/record";
 *
 * const signed = async (path: string) =>
 *   await loadRecordSignature(path, await loadCalibrationRecord(path)) !== null;
 * ```
 */
export async function loadRecordSignature(
  recordPath: string,
  record: CalibrationRecord,
): Promise<RecordSignature | null> {
  const task = "load a signature";
  requireText(recordPath, "recordPath", task);
  requireFields(record, "record", ["integrity"], task);
  const path = signaturePath(recordPath);
  let text: string;
  try {
    text = await readTextUpTo(path, 2 ** 16);
  } catch (error) {
    if (error instanceof Deno.errors.NotFound) return null;
    throw error;
  }
  const fail = (what: string) =>
    new RecordError(
      "signature",
      `Cannot trust '${recordPath}' as its signature '${path}' ${what}: take both as they came from the laboratory`,
    );
  const signature = parsed(text);
  if (signature === null) throw fail("is none");
  if (signature.digest !== record.integrity.digest) {
    throw fail("is that of another record");
  }
  let holds = false;
  try {
    const key = await crypto.subtle.importKey(
      "raw",
      decodeBase64(signature.publicKey),
      "Ed25519",
      false,
      ["verify"],
    );
    holds = await crypto.subtle.verify(
      "Ed25519",
      key,
      decodeBase64(signature.signature),
      signedBytes(signature),
    );
  } catch {
    // No key, or no base64
  }
  if (!holds) throw fail("does not hold");
  return signature;
}

function parsed(text: string): RecordSignature | null {
  try {
    const value = JSON.parse(text) as Record<string, unknown>;
    const { algorithm, signedBy, signedAt, digest, publicKey, signature } =
      value;
    const texts = [signedBy, signedAt, digest, publicKey, signature];
    return algorithm === "Ed25519" &&
        texts.every((item) => typeof item === "string")
      ? {
        algorithm,
        signedBy: String(signedBy),
        signedAt: String(signedAt),
        digest: String(digest),
        publicKey: String(publicKey),
        signature: String(signature),
      }
      : null;
  } catch {
    return null;
  }
}

function signedBytes(
  content: Omit<RecordSignature, "signature">,
): Uint8Array<ArrayBuffer> {
  const { algorithm, signedBy, signedAt, digest, publicKey } = content;
  return new TextEncoder().encode(
    JSON.stringify([algorithm, signedBy, signedAt, digest, publicKey]),
  );
}

async function readKey(path: string): Promise<KeyFile> {
  const fail = (what: string) =>
    new RecordError(
      "signature",
      `Cannot sign with the key '${path}' as ${what}`,
    );
  let text: string;
  try {
    text = await readTextUpTo(path, 2 ** 16);
  } catch (error) {
    if (!(error instanceof Deno.errors.NotFound)) throw error;
    throw fail("there is no such file: make one with 'deno task record key'");
  }
  const { mode } = await Deno.stat(path);
  if (mode !== null && Deno.build.os !== "windows" && (mode & 0o077) !== 0) {
    throw fail(
      "others than its owner can read it. Whoever can read it can sign: make a new key, or take their permission with 'chmod 600'",
    );
  }
  try {
    const key = JSON.parse(text) as KeyFile;
    if (key.kind === keyMark && typeof key.privateKey === "string") return key;
  } catch {
    // Said below; never what the file holds
  }
  throw fail("it is no signing key");
}
