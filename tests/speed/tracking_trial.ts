/**
 * A sweep of the speed by 10:1 at 10 dB, up or down, straight or exponential,
 * steady or fading with speckle: the line may never be lost.
 */
import { describe, expect, it } from "vitest";
import { simulateCapture } from "../../lib/laser/mod.ts";
import { createRandom } from "../../lib/signal/mod.ts";
import { trackSpeed } from "../../lib/speed/mod.ts";
import { captureOf } from "./simulated_line.ts";

const wavelength = 650e-9;
const samplingRate = 200_000;

/** Speed over time between 1 and 10 mm/s. */
function sweep(duration: number, exponential: boolean, up: boolean) {
  return (time: number) => {
    const part = up ? time / duration : 1 - time / duration;
    return exponential ? 1e-3 * 10 ** part : 1e-3 * (1 + 9 * part);
  };
}

describe("trackSpeed() over a sweep of 10:1", () => {
  it("holds the line in white noise at 10 dB, 200 sweeps", () => {
    const random = createRandom(77);
    let lost = 0, frames = 0, squares = 0;
    for (let trial = 0; trial < 200; trial++) {
      const duration = 0.08 + 0.3 * random.uniform();
      const truth = sweep(duration, trial % 2 === 0, trial % 4 < 2);
      let phase = 2 * Math.PI * random.uniform();
      const samples = Float64Array.from(
        { length: Math.round(samplingRate * duration) },
        (_, n) => {
          phase += 4 * Math.PI * 1.00027 * truth(n / samplingRate) /
            wavelength /
            samplingRate;
          return Math.cos(phase) + Math.sqrt(0.05) * random.normal();
        },
      );
      const track = trackSpeed(captureOf(samples, samplingRate), {
        wavelength,
      });
      track.time.forEach((time, i) => {
        const error = track.speed[i]! / truth(time) - 1;
        frames++;
        // NaN counts as lost.
        if (!(Math.abs(error) < 0.05)) lost++;
        else squares += error * error;
      });
    }
    console.log(
      `sweep 10:1 at 10 dB: ${lost} of ${frames} frames lost, ` +
        `rms ${(100 * Math.sqrt(squares / frames)).toFixed(3)} %`,
    );
    expect(lost).toBe(0);
  });

  it("holds the saw-tooth line of a diode at 10 dB, 20 sweeps, with its sign", () => {
    let lost = 0, frames = 0, wrong = 0, signed = 0;
    for (let trial = 0; trial < 20; trial++) {
      const duration = 0.3;
      const way = trial % 2 === 0 ? 1 : -1;
      const truth = sweep(duration, false, trial % 4 < 2);
      const v0 = truth(0), slope = (truth(duration) - v0) / duration;
      const capture = simulateCapture({
        distance: (time) => 0.1 + way * (v0 * time + slope * time * time / 2),
        samplingRate,
        duration,
        feedbackParameter: 0.7,
        noise: { signalToNoiseRatio: 10 },
        drive: null,
        seed: 100 + trial,
      });
      const track = trackSpeed(capture, { wavelength });
      track.time.forEach((time, i) => {
        frames++;
        if (!(Math.abs(track.speed[i]! / truth(time) - 1) < 0.05)) lost++;
        if (!Number.isNaN(track.velocity[i]!)) {
          signed++;
          if (Math.sign(track.velocity[i]!) !== way) wrong++;
        }
      });
    }
    console.log(
      `saw-tooth sweep 10:1 at 10 dB: ${lost} of ${frames} frames lost, ` +
        `${signed} with a sign, ${wrong} of them wrong`,
    );
    expect(lost).toBe(0);
    expect(wrong).toBe(0);
  });

  it("holds a line that fades with speckle, 20 sweeps, except where it is dark", () => {
    let wrong = 0, unseen = 0, frames = 0, signed = 0, wrongWay = 0;
    for (let trial = 0; trial < 20; trial++) {
      const duration = 0.4;
      const truth = sweep(duration, true, trial % 2 === 0);
      let position = 0;
      const distance = Float64Array.from(
        { length: samplingRate * duration },
        (_, n) => 0.1 + (position += truth(n / samplingRate) / samplingRate),
      );
      const travelled = (time: number) =>
        distance[
          Math.min(
            distance.length - 1,
            Math.max(0, Math.round(time * samplingRate)),
          )
        ]! - 0.1;
      const capture = simulateCapture({
        distance,
        samplingRate,
        feedbackParameter: 0.5,
        speckle: {
          contrast: 1,
          correlationLength: 60e-6,
          coordinate: (time) => 3 * travelled(time),
        },
        noise: { signalToNoiseRatio: 10 },
        drive: null,
        seed: 300 + trial,
      });
      const track = trackSpeed(capture, { wavelength });
      track.time.forEach((time, i) => {
        frames++;
        if (track.velocity[i]! > 0) signed++;
        else if (track.velocity[i]! < 0) wrongWay++;
        if (Number.isNaN(track.speed[i]!)) unseen++;
        else if (!(Math.abs(track.speed[i]! / truth(time) - 1) < 0.1)) wrong++;
      });
    }
    console.log(
      `fading sweep 10:1 at 10 dB: ${unseen} of ${frames} frames empty, ` +
        `${wrong} off by more than 10 %, ${signed} with the right sign, ` +
        `${wrongWay} with the wrong one`,
    );
    expect(wrongWay).toBe(0);
    expect(unseen / frames).toBeLessThan(0.02);
    expect(wrong / frames).toBeLessThan(0.01);
  });
});

describe("trackSpeed() through zero", () => {
  it("finds the zero crossings of 40 to-and-fro motions, with the sign", () => {
    const random = createRandom(55);
    let expected = 0,
      found = 0,
      early = 0,
      falseOnes = 0,
      wrong = 0,
      signed = 0;
    for (let trial = 0; trial < 40; trial++) {
      const duration = 1;
      const turns = 0.6 + 1.5 * random.uniform();
      const start = 2 * Math.PI * random.uniform();
      const peak = 3e-3 + 6e-3 * random.uniform();
      const velocity = (time: number) =>
        peak * Math.cos(2 * Math.PI * turns * time + start);
      const capture = simulateCapture({
        distance: (time) =>
          0.1 + peak / (2 * Math.PI * turns) *
            Math.sin(2 * Math.PI * turns * time + start),
        samplingRate,
        duration,
        feedbackParameter: 0.3 + 0.6 * random.uniform(),
        noise: { signalToNoiseRatio: 10 },
        drive: null,
        seed: 500 + trial,
      });
      const truths: number[] = [];
      for (let k = -4; k < 12; k++) {
        const time = (Math.PI / 2 + k * Math.PI - start) /
          (2 * Math.PI * turns);
        // The ends need a few frames on either side.
        if (time > 0.04 && time < duration - 0.04) truths.push(time);
      }
      const track = trackSpeed(capture, { wavelength });
      expected += truths.length;
      for (const { value, standardUncertainty } of track.zeroCrossings) {
        const nearest = Math.min(...truths.map((t) => Math.abs(t - value)));
        if (nearest < 0.01) found++;
        else if (value < 0.04 || value > duration - 0.04) early++;
        else falseOnes++;
        expect(standardUncertainty).toBeLessThan(0.01);
      }
      track.time.forEach((time, i) => {
        const value = track.velocity[i]!;
        if (Number.isNaN(value) || Math.abs(velocity(time)) < 0.1 * peak) {
          return;
        }
        signed++;
        if (Math.abs(value / velocity(time) - 1) > 0.1) wrong++;
      });
    }
    console.log(
      `zero crossings: ${found} of ${expected} found, ${falseOnes} false, ` +
        `${early} at the ends; ${signed} frames with a sign, ${wrong} wrong`,
    );
    expect(found).toBe(expected);
    expect(falseOnes).toBe(0);
    expect(wrong / signed).toBeLessThan(0.002);
  });
});
