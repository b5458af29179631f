/**
 * Units in words: `"mV"`, `"8.3 pm/mA"`, `"78deg"`. Knows nothing of captures.
 *
 * @module
 */
export {
  type ParsedUnit,
  parseQuantity,
  parseUnit,
  splitHeading,
} from "./unit.ts";
export { parseMeasure } from "./measure.ts";
export { convertUnit } from "./convert_unit.ts";
export { tableRows } from "./table_rows.ts";
