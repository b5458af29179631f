/**
 * The options by which tasks read and measure captures: `measure`, `explore`
 * and `new-calibration` take the same ones.
 *
 * @module
 */
export {
  ammeterFlag,
  captureFlags,
  channelFlags,
  lightFlags,
  measurementFlags,
  readingFlags,
  statedDriveFlags,
} from "./capture_flags.ts";
export { type CaptureTask, captureTask } from "./capture_task.ts";
export { readPart } from "./read_part.ts";
export { checkChannels, readAsAsked, readingOptions } from "./reading.ts";
export {
  type Conversion,
  conversionFlags,
  conversionOf,
  converted,
} from "./conversion.ts";
