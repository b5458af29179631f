import { optional } from "./option.ts";
import {
  functionOption,
  handedOption,
  wholeNumberOption,
} from "./plain_options.ts";

// deno-lint-ignore no-explicit-any
type Handed = any;

const isObject = (value: unknown) =>
  typeof value === "object" && value !== null;

/** The options of everything that runs block by block. */
export const streamRunOptions = {
  blockLength: optional(
    wholeNumberOption("New samples per block.", { least: 1 }),
    undefined,
    "what the analysis likes best",
  ),
  signal: optional(
    handedOption<AbortSignal>(
      "Stops the run when it is aborted.",
      "an AbortSignal",
      (value) => isObject(value) && "aborted" in (value as object),
    ),
    undefined,
    "none",
  ),
  resume: optional(
    handedOption<Handed>(
      "State of an earlier run of the same analysis, to go on from.",
      "the state that 'onBlock' gave",
      (value) =>
        isObject(value) && "analysis" in (value as object) &&
        "point" in (value as object),
    ),
    null,
  ),
  onBlock: optional(
    functionOption<Handed>(
      "Called after each block with the part done and what makes the state.",
    ),
    undefined,
    "none",
  ),
} as const;
