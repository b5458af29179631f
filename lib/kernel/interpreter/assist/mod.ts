/**
 * Help while typing: completion, inspection, whether more lines are wanted.
 * Nothing here runs code that could have an effect.
 *
 * @module
 */
export { complete } from "./complete.ts";
export { completenessOf } from "./completeness.ts";
export { inspect } from "./inspect.ts";
export { missingImport } from "./missing_import.ts";
export { type AssistSources, createSources } from "./sources.ts";
