import { setCheckpointHandler } from "../progress/mod.ts";

/**
 * Runs work of some milliseconds, of which there are many in a second: it tells no
 * progress of its own, and an interrupt is heard between two of them.
 */
export function quietly<T>(work: () => T): T {
  const before = setCheckpointHandler(null);
  try {
    return work();
  } finally {
    setCheckpointHandler(before);
  }
}
