import { NotMeasurableError } from "../errors/mod.ts";

/**
 * What a try finds; `null` where nothing can be measured under what it assumes.
 *
 * @param attempt The try: of a hop or a lag that may be none, a ramp that may
 * start later.
 */
export function ifMeasurable<T>(attempt: () => T): T | null {
  try {
    return attempt();
  } catch (error) {
    if (error instanceof NotMeasurableError) return null;
    throw error;
  }
}
