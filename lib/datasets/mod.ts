/**
 * The simulated bench: captures with known truth in `datasets/`, how they are
 * made and how they are read.
 *
 * @module
 */
export {
  datasetEntry,
  datasetFolder,
  datasetNames,
  datasetTruth,
  loadDataset,
} from "./load_dataset.ts";
export { type MadeDatasets, makeDatasets } from "./make_datasets.ts";
export type {
  MadeDataset,
  MadeTable,
  Manifest,
  ManifestEntry,
  ManifestFile,
  ManifestValue,
} from "./manifest.ts";
export { makeStudentSet, type StudentSet } from "./student_set.ts";
