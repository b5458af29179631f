import { grantFileName } from "./grants.ts";

/** Files in the writable folders that a notebook may not change. */
export const protectedNames: readonly string[] = [
  grantFileName,
  "deno.json",
  "deno.jsonc",
  "deno.lock",
  "package.json",
  ".git",
  ".ci",
  "lib",
];
