/**
 * The stages at the end of measurements of long records, which a computation that
 * is stopped early never reaches: here they are run by themselves, on phases and
 * displacements that were not measured but made.
 *
 * @module
 */
import { createCapture, type Displacement } from "fringebook";
import {
  measureDisplacementSpectrum,
  measureResponse,
  measureRingDown,
  measureVibration,
} from "fringebook";
import { createResult, quantity } from "fringebook/result";
import { extremeSpread } from "../../lib/motion/extreme_spread.ts";
import { withFeedbackDoubt } from "../../lib/motion/feedback_doubt.ts";
import { knotsAreClose } from "../../lib/motion/knot_distance.ts";
import { displacementOf } from "../../lib/motion/measure_displacement.ts";
import type { MotionTrack } from "../../lib/motion/motion_track.ts";
import type { TrackedCapture } from "../../lib/motion/tracked_capture.ts";
import { madeDisplacement } from "../motion/made_displacement.ts";

const samplingRate = 1e6;
const wavelength = 650e-9;
const metresPerRadian = wavelength / (4 * Math.PI);
/** Samples between knots of the spline that a displacement would come from. */
const spacing = 30;

function samplesOf(count: number, value: (time: number) => number) {
  const samples = new Float64Array(count);
  for (let i = 0; i < count; i++) samples[i] = value(i / samplingRate);
  return samples;
}

/** A displacement of a long record, with the signal that belongs to it. */
function made(displacement: Float64Array): Displacement {
  const plain = madeDisplacement(displacement, samplingRate, 1e-10);
  const signal = displacement.map((x) => Math.cos(x / metresPerRadian));
  return createResult({
    ...plain,
    diagnostics: {
      ...plain.diagnostics,
      knotSpacing: spacing / samplingRate,
      signal,
    },
  });
}

/**
 * The stages by name, on records of so many samples; what they take is made anew
 * by each call, before the stage is begun.
 *
 * @param count Samples.
 */
export function lateStages(count: number): Record<string, () => () => unknown> {
  const sine = samplesOf(
    count,
    (time) => 1e-6 * Math.sin(2 * Math.PI * 20 * time),
  );
  const track = () =>
    ({
      phase: sine.map((value) => value / metresPerRadian),
      uncertainty: new Float32Array(count).fill(1e-2),
      turningPoints: new Int32Array(0),
      path: 100,
      feedback: {
        feedbackParameter: quantity(0.7, 0.01, "1"),
        linewidthEnhancementFactor: quantity(4, 0.1, "1"),
        regime: "weak",
      },
      fringeForm: { p: 0, q: 0, origin: 0, sense: 1, uncertainty: 0 },
      relativeNoise: 1e-2,
      spacing,
      fastest: 40,
      doubtfulSamples: spacing,
      trace: null,
      stretches: [],
    }) as unknown as MotionTrack;
  return {
    "height of the fringes": () => {
      // Fringes that are too few in parts of the record: all of it is looked at.
      const signal = samplesOf(
        count,
        (time) => Math.cos(2 * Math.PI * 5e3 * time),
      );
      return () => extremeSpread(signal, { amplitude: 1, noise: 1e-3 });
    },
    "end of a displacement": () => {
      const own = track();
      const capture = createCapture([{
        name: "CH1",
        role: "monitor signal",
        unit: "V",
        samples: sine,
      }], { samplingRate });
      // One after the other, as a capture's phase is settled: together they hold
      // an interrupt up for longer than each.
      return () => {
        const raw = withFeedbackDoubt(own, 0.1, 1);
        knotsAreClose(raw.phase, raw);
        const tracked = {
          track: raw,
          conditioning: { signal: sine, unit: "V" },
          polarity: 1,
          directionSource: "fringe form",
          warnings: [],
        } as unknown as TrackedCapture;
        return displacementOf(
          capture,
          { wavelength },
          {
            wavelength,
            wavelengthStandardUncertainty: 0,
            refractiveIndex: 1,
          } as Parameters<typeof displacementOf>[2],
          tracked,
        );
      };
    },
    "ring-down of a displacement": () => {
      // Its fit takes a second per million samples and mode.
      const some = 0.3 * count;
      const duration = some / samplingRate;
      const displacement = made(samplesOf(
        some,
        (time) =>
          Math.exp(-3 * time / duration) *
          (2e-6 * Math.cos(200 * time) + 5e-7 * Math.cos(533 * time)),
      ));
      return () => measureRingDown(displacement);
    },
    "vibration of a displacement": () => {
      const displacement = made(sine.slice(0, 0.5 * count));
      return () => measureVibration(displacement);
    },
    "spectrum of a displacement": () => {
      const displacement = made(sine);
      return () => measureDisplacementSpectrum(displacement);
    },
    "response of a displacement": () => {
      const displacement = made(sine);
      const driven = createCapture([{
        name: "CH2",
        role: "drive voltage",
        unit: "V",
        samples: samplesOf(
          count,
          (time) => Math.sin(2 * Math.PI * 20 * time + 1e4 * time * time),
        ),
      }], { samplingRate });
      return () => measureResponse(displacement, driven, { leastDrive: 1e-12 });
    },
  };
}
