import { grantFileName } from "./grants.ts";

/** Names that a notebook may not write, wherever it may write. */
export const protectedNames: readonly string[] = [
  grantFileName,
  "deno.json",
  "deno.jsonc",
  "deno.lock",
  "package.json",
  ".git",
];
