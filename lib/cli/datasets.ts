/**
 * `deno task datasets`: simulates the bench anew and writes `datasets/`.
 *
 * @module
 */
import { datasetFolder, makeDatasets } from "../datasets/mod.ts";

const { files, manifest } = makeDatasets();
let total = 0;
for (const [name, bytes] of files) {
  const path = new URL(name, datasetFolder);
  const part = new URL(`${name}.part`, datasetFolder);
  await Deno.writeFile(part, bytes);
  await Deno.rename(part, path);
  total += bytes.length;
}
console.log(
  `${manifest.datasets.length} captures, ${(total / 1e6).toFixed(2)} MB`,
);
