import { joinBytes } from "../../memory/mod.ts";
import { libraryVersion } from "../../result/mod.ts";
import type { Capture } from "../capture.ts";
import { sha512Of } from "../../runtime/mod.ts";
import { describeCapture } from "../description.ts";
import { makeTar } from "../sigmf/tar.ts";
import { interleavedParts, putFloat64 } from "./interleave.ts";

/**
 * A SigMF recording: metadata text and float64 samples. What SigMF has no field
 * for stands in the namespace `fringebook`, an optional extension.
 */
export function sigmfFiles(
  capture: Capture,
): { meta: Uint8Array<ArrayBuffer>; data: Uint8Array<ArrayBuffer> } {
  const parts = [...interleavedParts(capture.channels, 8, putFloat64)];
  const data = joinBytes(parts, "write samples");
  const { startTime, samplingRate, channels } = capture;
  const utc = startTime !== null && /T.*Z$/.test(startTime) ? startTime : null;
  const meta = {
    global: {
      "core:datatype": "rf64_le",
      "core:sample_rate": samplingRate,
      "core:num_channels": channels.length,
      "core:version": "1.2.0",
      "core:sha512": sha512Of(data),
      "core:recorder": `fringebook ${libraryVersion}`,
      "core:extensions": [
        { name: "fringebook", version: "1.0.0", optional: true },
      ],
      "fringebook:capture": describeCapture(capture),
    },
    captures: [{
      "core:sample_start": 0,
      ...(utc === null ? {} : { "core:datetime": utc }),
    }],
    annotations: [],
  };
  const text = JSON.stringify(meta, null, 2);
  return { meta: new TextEncoder().encode(text + "\n"), data };
}

/** The recording as one archive (`.sigmf`): a tar of both files. */
export function sigmfArchive(
  capture: Capture,
  name: string,
): Uint8Array<ArrayBuffer> {
  const { meta, data } = sigmfFiles(capture);
  const base = name.replace(/[^\p{L}\p{N}_.-]/gu, "_").slice(0, 30) ||
    "capture";
  return makeTar([
    { name: `${base}/${base}.sigmf-meta`, bytes: meta },
    { name: `${base}/${base}.sigmf-data`, bytes: data },
  ]);
}
