/**
 * Parts of the runtime that take tens of milliseconds to load: fetched when they
 * are first used, so that importing the library stays fast.
 *
 * @module
 */
import { encodeHex } from "@std/encoding/hex";
import { checkpoint } from "../progress/mod.ts";
import type * as Crypto from "node:crypto";
import type * as FileSystem from "node:fs";
import type * as V8 from "node:v8";
import type * as Vm from "node:vm";
import type * as Zlib from "node:zlib";

interface Builtins {
  getBuiltinModule(name: "node:crypto"): typeof Crypto;
  getBuiltinModule(name: "node:fs"): typeof FileSystem;
  getBuiltinModule(name: "node:v8"): typeof V8;
  getBuiltinModule(name: "node:vm"): typeof Vm;
  getBuiltinModule(name: "node:zlib"): typeof Zlib;
}

const builtins = () => (globalThis as unknown as { process: Builtins }).process;

/** Hash functions. */
export function cryptoModule(): typeof Crypto {
  return builtins().getBuiltinModule("node:crypto");
}

/** Deflate, gzip and CRC-32. */
export function zlibModule(): typeof Zlib {
  return builtins().getBuiltinModule("node:zlib");
}

/** Files opened without waiting for the other side of a pipe. */
export function fileSystemModule(): typeof FileSystem {
  return builtins().getBuiltinModule("node:fs");
}

/** The engine's flags. */
export function v8Module(): typeof V8 {
  return builtins().getBuiltinModule("node:v8");
}

/** Contexts of their own. */
export function vmModule(): typeof Vm {
  return builtins().getBuiltinModule("node:vm");
}

/** SHA-256 of bytes in lower-case hex. */
export function sha256Of(bytes: Uint8Array): string {
  return digestOf("sha256", bytes);
}

/** The same without loading anything, on another thread: for bytes at hand. */
export async function sha256Later(
  bytes: Uint8Array<ArrayBuffer>,
): Promise<string> {
  return encodeHex(await crypto.subtle.digest("SHA-256", bytes));
}

/** SHA-512 of bytes in lower-case hex. */
export function sha512Of(bytes: Uint8Array): string {
  return digestOf("sha512", bytes);
}

/** Bytes that are hashed between two checkpoints: some ms of work. */
const stride = 1 << 21;

function digestOf(name: string, bytes: Uint8Array): string {
  const hash = cryptoModule().createHash(name);
  for (let at = 0; at < bytes.length; at += stride) {
    if (at > 0) checkpoint(at / bytes.length, "hash");
    hash.update(bytes.subarray(at, at + stride));
  }
  return hash.digest("hex");
}
