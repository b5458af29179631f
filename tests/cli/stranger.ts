import { join } from "@std/path";
import { findChannel, loadDataset } from "fringebook";

/**
 * A shipped capture as a stranger's scope would have written it: channels
 * `CH1` and `CH2`, both in volts (the drive behind 100 Ω: 10 mA/V), fields
 * parted by semicolons, decimal commas. Our own invention.
 */
export async function strangerText(dataset: string): Promise<string> {
  const capture = await loadDataset(dataset);
  const monitor = findChannel(capture, "monitor signal")!;
  const drive = findChannel(capture, "drive current");
  const comma = (value: number) => value.toPrecision(7).replace(".", ",");
  const lines = ["Time (s);CH1 (V);CH2 (V)"];
  for (let i = 0; i < capture.sampleCount; i++) {
    lines.push([
      comma(i / capture.samplingRate),
      comma(monitor.samples[i]!),
      comma(drive === null ? 0 : drive.samples[i]! / 0.01),
    ].join(";"));
  }
  return lines.join("\r\n") + "\r\n";
}

/** Writes such captures into a folder, as `<dataset>.csv`. */
export async function writeStrangers(
  folder: string,
  datasets: readonly string[],
): Promise<void> {
  for (const dataset of datasets) {
    const path = join(folder, `${dataset}.csv`);
    await Deno.writeTextFile(path, await strangerText(dataset));
  }
}
