import type { SimulateCaptureOptions } from "../laser/mod.ts";
import { createRandom } from "../signal/mod.ts";
import { rangingDiode } from "./bench.ts";
import {
  known,
  type MadeDataset,
  type ManifestValue,
  truth,
} from "./manifest.ts";
import { mixFringes } from "./mix_fringes.ts";
import { makeScopeCapture, red, scopeDataset } from "./scope_capture.ts";

const angle = 78.2 / 180 * Math.PI;
/** Way along the beam per way of the surface (1). */
const along = Math.cos(angle);

const protractor = known(
  78 / 180 * Math.PI,
  0.3 / 180 * Math.PI,
  "rad",
  "Between beam and velocity, by protractor",
);

/** How the surface runs, and what the simulator knows of it. */
interface MotorRecipe {
  readonly name: string;
  readonly what: string;
  /** Way of the surface, in m, at a time in s. */
  readonly way: (time: number) => number;
  readonly speckle?: SimulateCaptureOptions["speckle"];
  /** In Hz. */
  readonly samplingRate?: number;
  /** In s. */
  readonly duration?: number;
  readonly seed: number;
  readonly truth: Readonly<Record<string, ManifestValue>>;
}

/** A motor's disc, grazed by the beam. */
function makeMotor(
  {
    name,
    what,
    way,
    speckle,
    samplingRate = 100e3,
    duration = 0.12,
    seed,
    truth: own,
  }: MotorRecipe,
): MadeDataset {
  return makeScopeCapture({
    name,
    what,
    samplingRate,
    duration,
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
    known: { wavelength: red, angle: protractor },
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

/** A disc that is not bored at its centre: the speed swings once per turn. */
export function makeEccentricMotor(): MadeDataset {
  const [speed, depth, rate] = [0.0069, 0.07, 41];
  const turn = 2 * Math.PI * rate;
  return makeMotor({
    name: "motor-eccentric",
    what:
      "Disc of a motor that is not bored at its centre, grazed by the beam: its speed swings once per turn",
    way: (time) => speed * (time - depth / turn * Math.cos(turn * time + 0.6)),
    samplingRate: 50e3,
    duration: 0.16,
    seed: 2686,
    truth: {
      speed: truth(speed, "m/s", "Mean speed of the surface"),
      rotationRate: truth(rate, "Hz", "Turns per second"),
      depth: truth(depth, "1", "Swing of the speed to each side"),
    },
  });
}

/** A disc and the belt behind it, both in the beam: their fringes add. */
export function makeTwoSpeeds(): MadeDataset {
  const [samplingRate, sampleCount] = [50e3, 6000];
  const [disc, belt] = [0.0194, 0.00732];
  const random = createRandom(2687);
  let shift = 0;
  const samples = Float64Array.from({ length: sampleCount }, (_, i) => {
    const time = i / samplingRate;
    const now = mixFringes(
      [
        { distance: 0.11 + along * disc * time, feedbackParameter: 0.35 },
        { distance: 0.1137 + along * belt * time, feedbackParameter: 0.25 },
      ],
      rangingDiode.wavelength,
      shift,
    );
    shift = now.shift;
    const volts = 5 + 0.1 * now.fringes + 3e-3 * random.normal();
    // A converter of 12 bits over 10 V.
    return Math.round(volts * 409.6) / 409.6;
  });
  return scopeDataset({
    name: "motor-belt",
    what:
      "Disc of a motor and the belt that it drives, both grazed by the beam: two speeds at once",
    samplingRate,
    samples: [samples],
    channels: { CH1: "monitor signal" },
    known: { wavelength: red, angle: protractor },
    truth: {
      wavelength: truth(rangingDiode.wavelength, "m", "True wavelength"),
      speed: truth(disc, "m/s", "Speed of the disc"),
      secondSpeed: truth(belt, "m/s", "Speed of the belt"),
      angle: truth(angle, "rad", "Between beam and velocity"),
    },
  });
}
