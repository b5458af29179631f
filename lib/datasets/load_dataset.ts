import { type Capture, readCapture } from "../capture/mod.ts";
import { CaptureFormatError } from "../errors/mod.ts";
import { requireText } from "../options/mod.ts";
import type { Manifest, ManifestEntry, ManifestValue } from "./manifest.ts";

/** Folder of the files, as a URL that ends in a slash. */
export const datasetFolder: URL = new URL("../../datasets/", import.meta.url);

let manifest: Manifest | null = null;

function readManifest(): Manifest {
  manifest ??= JSON.parse(
    Deno.readTextFileSync(new URL("manifest.json", datasetFolder)),
  ) as Manifest;
  return manifest;
}

/**
 * Names of the captures of the simulated bench, or of one series of them.
 *
 * @param series Such as `"tuning"`, `"distance"`, `"motion"`, `"disc"`,
 * `"light-current"`, `"bad"`; all where left out.
 * @returns The names, in order.
 *
 * @example
 * ```ts
 * import { datasetNames } from "fringebook";
 * import { expect } from "vitest";
 *
 * expect(datasetNames("tuning").length).toBe(8);
 * ```
 */
export function datasetNames(series?: string): string[] {
  return readManifest().datasets
    .filter((entry) => series === undefined || entry.series === series)
    .map(({ name }) => name);
}

/**
 * What the manifest says of one capture: file, channels, what is known at the
 * bench, and the truth.
 *
 * @param name Such as `"tuning-060mm"`.
 * @returns The manifest's entry.
 * @throws {RangeError} If there is no such capture; the message lists them.
 *
 * @example
 * ```ts
 * import { datasetEntry } from "fringebook";
 * import { expect } from "vitest";
 *
 * const { known } = datasetEntry("tuning-060mm");
 * expect(known.distance?.value).toBe(0.06);
 * ```
 */
export function datasetEntry(name: string): ManifestEntry {
  requireText(name, "name", "find a data set");
  const { datasets } = readManifest();
  const entry = datasets.find((each) => each.name === name);
  if (entry !== undefined) return entry;
  throw new RangeError(
    `Cannot find the dataset '${name}': there are ${
      datasets.map((each) => each.name).join(", ")
    }`,
  );
}

/**
 * What only the simulator knows of one capture, or of a table beside them.
 *
 * @param name Such as `"distance-a"`, `"check-distance"`.
 * @returns Values by name, in SI.
 * @throws {RangeError} If there is neither of that name.
 *
 * @example
 * ```ts
 * import { datasetTruth } from "fringebook";
 * import { expect } from "vitest";
 *
 * expect(datasetTruth("distance-a").distance?.unit).toBe("m");
 * ```
 */
export function datasetTruth(
  name: string,
): Readonly<Record<string, ManifestValue>> {
  const table = readManifest().tables.find((each) => each.name === name);
  return (table ?? datasetEntry(name)).truth;
}

/**
 * Reads one capture of the simulated bench with the manifest's reading options.
 *
 * @param name Such as `"vibration"`.
 * @returns The capture, in SI.
 * @throws {RangeError} If there is no such capture.
 * @throws {CaptureFormatError} If the file is not the one of the manifest.
 *
 * @example
 * ```ts
 * import { findChannel, loadDataset } from "fringebook";
 * import { expect } from "vitest";
 *
 * const capture = await loadDataset("vibration");
 * expect(capture.samplingRate).toBe(96000);
 * expect(findChannel(capture, "monitor signal")?.unit).toBe("V");
 * ```
 */
export async function loadDataset(name: string): Promise<Capture> {
  const { file, reading, sha256 } = datasetEntry(name);
  const capture = await readCapture(new URL(file, datasetFolder), reading);
  if (capture.source.sha256 !== sha256) {
    throw new CaptureFormatError(
      `Cannot use 'datasets/${file}' as it is not the file of the manifest: its SHA-256 is ${capture.source.sha256}. Run 'deno task datasets' to make it anew`,
      { fileName: file },
    );
  }
  return capture;
}
