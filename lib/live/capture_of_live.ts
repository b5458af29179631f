import { type Capture, createCapture } from "../capture/mod.ts";
import type { Shown, Warning } from "../result/mod.ts";
import type { LiveStream } from "./live_source.ts";

/**
 * Samples of a live source as a capture that every other function takes.
 *
 * @param stream The opened source.
 * @param samples One array per channel.
 * @param startTime Time of the first sample, ISO 8601.
 * @param metadata What else is known, as text.
 * @param warnings What is doubted.
 */
export function captureOfLive(
  stream: Pick<LiveStream, "channels" | "samplingRate" | "settings">,
  samples: readonly Float64Array[],
  startTime: string,
  metadata: Readonly<Record<string, string>> = {},
  warnings: readonly Warning[] = [],
): Capture & Shown {
  return createCapture(
    stream.channels.map(({ name, role, unit, fullScale }, channel) => ({
      name,
      role,
      unit,
      fullScale,
      samples: samples[channel]!,
    })),
    {
      samplingRate: stream.samplingRate,
      startTime,
      metadata: { ...stream.settings, ...metadata },
      source: { fileName: null, sha256: null, format: "live" },
      warnings,
    },
  );
}
