import { checkpoint } from "../progress/mod.ts";
import { sha256Of } from "../runtime/mod.ts";
import {
  makeJunction,
  makeSineRanges,
  makeTap,
  makeTaps,
} from "./afternoon.ts";
import { makeDrives } from "./drives.ts";
import {
  makeEccentricMotor,
  makeMotors,
  makeTurningMotors,
  makeTwoSpeeds,
} from "./motors.ts";
import { makeSpeakers } from "./speakers.ts";
import { makeLightCurrentSweeps } from "./light_current.ts";
import { makeLevels } from "./level.ts";
import type { MadeDataset, MadeTable, Manifest } from "./manifest.ts";
import {
  makeBadCapture,
  makeRingDown,
  makeRotatingDisc,
  makeVibration,
} from "./moving.ts";
import { makeTuningSeries, makeUnknownDistances } from "./ranging.ts";
import { makeTables, makeWarmRamps } from "./second_thoughts.ts";
import { makeTwoTargets } from "./two_targets.ts";

/** All files of the simulated bench. */
export interface MadeDatasets {
  /** File name and bytes, the manifest last. */
  readonly files: ReadonlyMap<string, Uint8Array>;
  /** The manifest. */
  readonly manifest: Manifest;
}

/**
 * Simulates the bench anew: every capture and the manifest, the same bytes each
 * time.
 *
 * @returns Files by name.
 *
 * @example
 * ```ts
 * import { makeDatasets } from "fringebook/datasets";
 * import { expect } from "vitest";
 *
 * const { files } = makeDatasets();
 * expect([...files.keys()]).toContain("vibration.wav");
 * ```
 */
export function makeDatasets(): MadeDatasets {
  const recipes: (() => MadeDataset | MadeDataset[])[] = [
    makeTuningSeries,
    makeUnknownDistances,
    makeVibration,
    makeRingDown,
    makeRotatingDisc,
    makeLightCurrentSweeps,
    makeBadCapture,
    makeSpeakers,
    makeMotors,
    makeTurningMotors,
    makeEccentricMotor,
    makeTwoSpeeds,
    makeSineRanges,
    makeTap,
    makeTaps,
    makeJunction,
    makeTwoTargets,
    makeDrives,
    makeWarmRamps,
    makeLevels,
  ];
  const made = recipes.flatMap((recipe, index) => {
    checkpoint(index / recipes.length, "simulate the bench");
    return recipe();
  });
  const tables: MadeTable[] = [
    ...made.flatMap(({ beside }) => beside === undefined ? [] : [beside]),
    ...makeTables(),
  ];
  const files = new Map(
    [...made, ...tables].map(({ bytes, entry }) => [entry.file, bytes]),
  );
  const withBytes = <T>(
    { bytes, entry }: { readonly bytes: Uint8Array; readonly entry: T },
  ) => ({ ...entry, sha256: sha256Of(bytes), bytes: bytes.length });
  const manifest: Manifest = {
    origin:
      "Simulated with known truth: the bench of a teaching lab that does not exist",
    datasets: made.map(withBytes),
    tables: tables.map(withBytes),
  };
  files.set(
    "manifest.json",
    new TextEncoder().encode(JSON.stringify(manifest, null, 2) + "\n"),
  );
  return { files, manifest };
}
