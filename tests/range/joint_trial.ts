import { describe, expect, it } from "vitest";
import { againstGolden, type GoldenRecord } from "../zoo/golden.ts";
import { createBenches } from "./joint_bench.ts";
import type { JointBench } from "./joint_bench.ts";
import {
  inside,
  jointRecord,
  measureJoint,
  type Trial,
} from "./joint_records.ts";
import { rms, robustRms, share } from "./statistics.ts";

// Hop, tap and lag each in one capture of three, independently of one another.
// FRINGEBOOK_TRIALS=1000 takes some 15 minutes of one core; FRINGEBOOK_FIRST is
// the first bench, from 1, to try ones that were never looked at.
const count = Number(Deno.env.get("FRINGEBOOK_TRIALS") ?? 160);
const first = Number(Deno.env.get("FRINGEBOOK_FIRST") ?? 1);

const trials: Trial[] = [];
const refused: string[] = [];
const records: GoldenRecord[] = [];
const next = createBenches(20261125);
for (let k = 1; k < first; k++) next();
for (let k = 0; k < count; k++) {
  const measured = measureJoint(next());
  records.push(jointRecord(measured));
  if ("reason" in measured) {
    refused.push(`${describeBench(measured.bench)}: ${measured.reason}`);
  } else {
    trials.push(measured);
  }
}

function describeBench(b: JointBench): string {
  return `bench ${b.seed}: C ${b.feedbackParameter.toFixed(2)}, ${
    b.steps.toFixed(2)
  } steps, ${b.ratio.toFixed(0)} dB, hop ${b.hopTurns.toFixed(2)}, tap ${
    b.tap === null ? 0 : (1e9 * b.tap.amplitude).toFixed(0)
  } nm, lag ${(1e3 * b.lag).toFixed(1)} ms`;
}

const strata: readonly (readonly [string, (b: JointBench) => boolean])[] = [
  ["C < 1, 3 steps and more", (b) => b.feedbackParameter < 1 && b.steps >= 3],
  [
    "C < 1, 1.3 to 3 steps",
    (b) => b.feedbackParameter < 1 && b.steps >= 1.3 && b.steps < 3,
  ],
  ["C < 1, 1 to 1.3 steps", (b) => b.feedbackParameter < 1 && b.steps < 1.3],
  [
    "1 < C < 2.5, 3 steps and more",
    (b) =>
      b.feedbackParameter >= 1 && b.feedbackParameter < 2.5 && b.steps >= 3,
  ],
  [
    "2.5 < C < 4, 3 steps and more",
    (b) => b.feedbackParameter >= 2.5 && b.steps >= 3,
  ],
  ["C > 1, 1 to 3 steps", (b) => b.feedbackParameter >= 1 && b.steps < 3],
];
const undisturbed = (b: JointBench) =>
  b.hop === null && b.tap === null && b.lag === 0;

describe(`measureSteps() on ${count} seeded benches, disturbed at random`, () => {
  it("prints what was found", () => {
    for (
      const [which, test] of [
        ["undisturbed", undisturbed],
        ["all", () => true],
      ] as const
    ) {
      for (const [name, stratum] of strata) {
        const chosen = trials.filter(({ bench }) =>
          stratum(bench) && test(bench)
        );
        if (chosen.length === 0) continue;
        const over = (of: keyof Trial["bound"]) => {
          const ratios = chosen.map((t) => t.error / t.bound[of]);
          return `${rms(ratios).toPrecision(3)} (typical ${
            robustRms(ratios).toPrecision(2)
          })`;
        };
        console.log(
          `${which}, ${name}: ${chosen.length}; error over bound: waveform, jumps to a sample ${
            over("sharp")
          }, pole known ${over("pole")}, cosine ${
            over("cosine")
          }; in 95 % interval ${
            (100 * share(chosen, inside)).toFixed(0)
          } %, doubtful ${
            (100 * share(chosen, (t) => t.doubtful)).toFixed(0)
          } %`,
        );
      }
    }
    const sure = trials.filter((t) => !t.doubtful);
    const wrong = sure.filter((t) => Math.abs(t.error) > 4 * t.uncertainty);
    console.log(
      `in 95 % interval ${
        (100 * share(trials, inside)).toFixed(1)
      } %, of the ${sure.length} without doubt ${
        (100 * share(sure, inside)).toFixed(1)
      } %`,
    );
    console.log(
      `more than 4 u off without a doubtful warning: ${wrong.length}`,
      wrong.map((t) =>
        `${describeBench(t.bench)}: ${t.error.toExponential(1)}, ${
          (t.error / t.uncertainty).toFixed(1)
        } u`
      ),
    );
    const lags = trials.filter(({ bench }) => bench.lag > 0);
    console.log(
      `lags found: ${
        lags.filter((t) => t.lag > 0).length
      } of ${lags.length}, false: ${
        trials.filter((t) => t.bench.lag === 0 && t.lag > 0).length
      } of ${trials.length - lags.length}`,
    );
    console.log(`refused: ${refused.length} of ${count}`, refused);
  });

  it("is no worse than the goldens beyond chance", async () => {
    const { text, worse } = await againstGolden("joint", records);
    console.log(text);
    expect(worse).toEqual([]);
  });

  it("undisturbed and not doubtful: rms error below twice the bound of the waveform", () => {
    for (const k of [0, 1, 3, 4]) {
      const chosen = trials.filter((t) =>
        strata[k]![1](t.bench) && undisturbed(t.bench) && !t.doubtful
      );
      expect(chosen.length).toBeGreaterThan(0);
      expect(rms(chosen.map((t) => t.error / t.bound.sharp))).toBeLessThan(2);
    }
  });

  it("undisturbed: within 0.1 % at 10 steps and 30 dB and more", () => {
    const relative = trials.filter(({ bench }) =>
      bench.steps >= 10 && bench.ratio >= 30 && undisturbed(bench)
    ).map((t) => t.error / t.bench.steps);
    expect(rms(relative)).toBeLessThan(1e-3);
    expect(share(relative, (r) => Math.abs(r) < 1e-3)).toBe(1);
  });

  it("95 % intervals hold the truth in 93 to 97 %", () => {
    // Two standard deviations of a share of 95 % over fewer than 1000 trials.
    const room = count >= 1000 ? 0 : 2 * Math.sqrt(0.95 * 0.05 / count);
    const held = share(trials, inside);
    expect(held).toBeGreaterThan(0.93 - room);
    expect(held).toBeLessThan(0.97 + room);
    const sure = trials.filter((t) => !t.doubtful);
    expect(share(sure, inside)).toBeGreaterThan(0.93 - room);
  });

  it("hardly any count is far off without saying so, and hardly any is refused", () => {
    const wrong = trials.filter((t) =>
      !t.doubtful && Math.abs(t.error) > 4 * t.uncertainty
    );
    // 9 of 1000; none is the aim.
    expect(wrong.length / count).toBeLessThan(0.0125);
    expect(refused.length / count).toBeLessThan(0.005);
  });

  it("a lag is hardly ever found where there is none", () => {
    const none = trials.filter(({ bench }) => bench.lag === 0);
    expect(none.filter((t) => t.lag > 0).length)
      .toBeLessThan(Math.max(1.5, 0.01 * none.length));
  });

  // With the true place, step and lag the fits gained 300 and more of -2 ln L on
  // each of 14 hops that had been missed: the samples show them, none is left out.
  it("hops by a tenth of a turn are found, hardly any false", () => {
    const of = (steps: (n: number) => boolean) => {
      const planted = trials.filter(({ bench }) =>
        Math.abs(bench.hopTurns) >= 0.1 && steps(bench.steps)
      );
      const missed = planted.filter((t) => t.hops === 0);
      return {
        planted: planted.length,
        found: planted.length - missed.length,
        missed,
      };
    };
    const [many, few] = [of((n) => n >= 5), of((n) => n < 5)];
    const missed = [...many.missed, ...few.missed];
    const none = trials.filter(({ bench }) => bench.hop === null);
    const alarms = none.filter((t) => t.hops > 0);
    console.log(
      `hops found: ${many.found} of ${many.planted} on 5 steps and more, ${few.found} of ${few.planted} below; false alarms ${alarms.length} of ${none.length}`,
      alarms.map(({ bench }) => describeBench(bench)),
      "missed",
      missed.map((t) =>
        `${describeBench(t.bench)}: ${(t.error / t.uncertainty).toFixed(1)} u${
          t.doubtful ? ", doubtful" : ""
        }`
      ),
    );
    expect(many.found / many.planted).toBeGreaterThan(0.98);
    expect(few.found / few.planted).toBeGreaterThan(0.85);
    // What is missed says that it is doubtful, with room for the truth.
    expect(missed.filter((t) => !t.doubtful)).toEqual([]);
    expect(
      missed.filter((t) => Math.abs(t.error) > t.factor * t.uncertainty).length,
    ).toBeLessThan(Math.max(1.5, 0.05 * missed.length));
    const quiet = none.filter(({ bench }) => undisturbed(bench));
    expect(quiet.filter((t) => t.hops > 0).length)
      .toBeLessThan(Math.max(1.5, 0.01 * quiet.length));
    // Strong feedback under a lag may still look like a hop.
    expect(alarms.length).toBeLessThan(Math.max(1.5, 0.01 * none.length));
  });
});
