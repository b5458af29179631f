import type { SimulateCaptureOptions } from "../laser/mod.ts";
import { rangingDiode } from "./bench.ts";
import {
  known,
  type MadeDataset,
  type ManifestValue,
  truth,
} from "./manifest.ts";
import { makeScopeCapture, red } from "./scope_capture.ts";

const angle = 78.2 / 180 * Math.PI;
/** Way along the beam per way of the surface (1). */
const along = Math.cos(angle);

/** How the surface runs, and what the simulator knows of it. */
interface MotorRecipe {
  readonly name: string;
  readonly what: string;
  /** Way of the surface, in m, at a time in s. */
  readonly way: (time: number) => number;
  readonly speckle?: SimulateCaptureOptions["speckle"];
  readonly seed: number;
  readonly truth: Readonly<Record<string, ManifestValue>>;
}

/** A motor's disc, grazed by the beam. */
function makeMotor(
  { name, what, way, speckle, seed, truth: own }: MotorRecipe,
): MadeDataset {
  return makeScopeCapture({
    name,
    what,
    samplingRate: 100e3,
    duration: 0.12,
    simulated: {
      distance: (time) => 0.11 + along * way(time),
      current: rangingDiode.referenceCurrent,
      diode: rangingDiode,
      feedbackParameter: 1.2,
      ...(speckle === undefined ? {} : { speckle }),
    },
    drive: null,
    driveReading: "target",
    seed,
    known: {
      wavelength: red,
      angle: known(
        78 / 180 * Math.PI,
        0.3 / 180 * Math.PI,
        "rad",
        "Between beam and velocity, by protractor",
      ),
    },
    truth: {
      wavelength: truth(rangingDiode.wavelength, "m", "True wavelength"),
      ...own,
      angle: truth(angle, "rad", "Between beam and velocity"),
    },
  });
}

/** A motor's disc turning one way and the other. */
export function makeMotors(): MadeDataset[] {
  return ([["motor-away", 0.0196, 2681], [
    "motor-back",
    -0.0147,
    2682,
  ]] as const)
    .map(([name, speed, seed]) =>
      makeMotor({
        name,
        what: `Disc of a motor, grazed by the beam, turning ${
          speed > 0 ? "away" : "the other way"
        }`,
        way: (time) => speed * time,
        speckle: {
          contrast: 0.7,
          correlationLength: 60e-6,
          coordinate: (time) => Math.abs(speed) * time,
        },
        seed,
        truth: {
          speed: truth(Math.abs(speed), "m/s", "Speed of the surface"),
          speedAlongBeam: truth(
            speed * along,
            "m/s",
            "Along the beam, receding",
          ),
        },
      })
    );
}

/** The motor's leads are swapped while it runs; a finger stops its disc. */
export function makeTurningMotors(): MadeDataset[] {
  const [before, after, swapped, settled] = [0.0183, -0.0138, 0.05, 0.09];
  const slowing = (after - before) / (settled - swapped);
  const turning = (time: number) => {
    const t = Math.max(0, Math.min(time, settled) - swapped);
    return before * Math.min(time, swapped) + (before + slowing * t / 2) * t +
      after * Math.max(0, time - settled);
  };
  const [speed, stopped, freed] = [0.0163, 0.047, 0.081];
  const stopping = (time: number) =>
    speed * (Math.min(time, stopped) + Math.max(0, time - freed));
  const seconds = (value: number, what: string) => truth(value, "s", what);
  const cases: readonly MotorRecipe[] = [{
    name: "motor-turns",
    what:
      "Disc of a motor, grazed by the beam: its leads are swapped while it runs, and it turns round",
    way: turning,
    seed: 2683,
    truth: {
      highestSpeed: truth(before, "m/s", "Speed before the leads are swapped"),
      turningTime: seconds(
        swapped - before / slowing,
        "When the surface turns round",
      ),
    },
  }, {
    name: "motor-stops",
    what:
      "Disc of a motor, grazed by the beam: a finger stops it at once, and lets it go",
    way: stopping,
    seed: 2685,
    truth: {
      highestSpeed: truth(speed, "m/s", "Speed while it turns"),
      stopTime: seconds(stopped, "When the finger stops it"),
      startTime: seconds(freed, "When the finger lets it go"),
    },
  }];
  return cases.map(makeMotor);
}
