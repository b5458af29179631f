import { checkpoint } from "../progress/mod.ts";

/** What is followed and what it costs. */
export interface RidgeOptions {
  /** First bin that may hold the line. */
  lowest: number;
  /** Last bin that may hold the line. */
  highest: number;
  /** Bins that may not hold it. */
  masked: ReadonlySet<number>;
}

/** Log-likelihood that one bin of path costs per frame. */
const costPerBin = 0.8;
/** Log-likelihood that the line's coming or going costs. */
const costOfChange = 18;
/** What noise alone gives to a path that picks its best neighbours. */
const noiseShare = 2.5;

/**
 * Follows one line through a spectrogram: the path of greatest likelihood over
 * all frames at once, by dynamic programming (Viterbi 1967, IEEE Trans. Inf.
 * Theory 13, 260), with a state for "no line" so that drop-outs are told. A bin
 * of density R over the background counts with the compressed gain
 * 10 ln(1 + (R − 1 − ln R)/10).
 *
 * @param density Densities, `frames × bins`.
 * @param level Background of each bin.
 * @param options Bins that may hold the line.
 * @returns The bin in each frame; −1 where there is no line.
 */
export function followRidge(
  density: Float64Array,
  level: Float64Array,
  options: RidgeOptions,
): Int32Array {
  const { lowest, highest, masked } = options;
  const bins = level.length;
  const frames = density.length / bins;
  const states = highest - lowest + 1;
  let score = new Float64Array(states);
  let next = new Float64Array(states);
  const from = new Int32Array(frames * states);
  const absentFrom = new Int32Array(frames);
  let absent = 0;
  score.fill(-costOfChange);
  const source = new Int32Array(states);
  for (let frame = 0; frame < frames; frame++) {
    if (frame % 8 === 0) checkpoint(frame / frames, "follow the line");
    for (let s = 0; s < states; s++) {
      next[s] = score[s]!;
      source[s] = s;
    }
    let best = -Infinity;
    let bestState = 0;
    for (let s = 0; s < states; s++) {
      if (s > 0 && next[s - 1]! - costPerBin > next[s]!) {
        next[s] = next[s - 1]! - costPerBin;
        source[s] = source[s - 1]!;
      }
      if (score[s]! > best) {
        best = score[s]!;
        bestState = s;
      }
    }
    const arrive = absent - costOfChange;
    const offset = frame * states;
    const row = frame * bins + lowest;
    for (let s = states - 1; s >= 0; s--) {
      if (s < states - 1 && next[s + 1]! - costPerBin > next[s]!) {
        next[s] = next[s + 1]! - costPerBin;
        source[s] = source[s + 1]!;
      }
      from[offset + s] = source[s]!;
    }
    for (let s = 0; s < states; s++) {
      if (arrive > next[s]!) {
        next[s] = arrive;
        from[offset + s] = -1;
      }
      next[s]! += gainOf(density[row + s]! / level[lowest + s]!) - noiseShare;
      if (masked.has(lowest + s)) next[s]! -= 3 * noiseShare;
    }
    if (best - costOfChange > absent) {
      absent = best - costOfChange;
      absentFrom[frame] = bestState;
    } else absentFrom[frame] = -1;
    [score, next] = [next, score];
  }
  return traceBack(score, absent, from, absentFrom, states, lowest);
}

function gainOf(ratio: number): number {
  if (!(ratio > 1)) return 0;
  return 10 * Math.log1p((ratio - 1 - Math.log(ratio)) / 10);
}

function traceBack(
  score: Float64Array,
  absent: number,
  from: Int32Array,
  absentFrom: Int32Array,
  states: number,
  lowest: number,
): Int32Array {
  const frames = absentFrom.length;
  const path = new Int32Array(frames);
  let state = -1;
  let best = absent;
  for (let s = 0; s < states; s++) {
    if (score[s]! > best) {
      best = score[s]!;
      state = s;
    }
  }
  for (let frame = frames - 1; frame >= 0; frame--) {
    path[frame] = state < 0 ? -1 : state + lowest;
    state = state < 0 ? absentFrom[frame]! : from[frame * states + state]!;
  }
  return path;
}
