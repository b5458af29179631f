import { checkpoint } from "../../progress/mod.ts";
import type { Samples } from "../capture.ts";

/** The monitor signal minus its straight-line dependence on the drive. */
export function withoutDrive(monitor: Samples, drive: Samples): Float64Array {
  let sx = 0;
  let sy = 0;
  let n = 0;
  for (let index = 0; index < monitor.length; index++) {
    if ((index & 0x1ffff) === 0) checkpoint(NaN, "take the drive out");
    const x = drive[index]!;
    const y = monitor[index]!;
    if (x - x !== 0 || y - y !== 0) continue;
    sx += x;
    sy += y;
    n++;
  }
  const mx = sx / n;
  const my = sy / n;
  let xx = 0;
  let xy = 0;
  for (let index = 0; index < monitor.length; index++) {
    if ((index & 0x1ffff) === 0) checkpoint(NaN, "take the drive out");
    const x = drive[index]! - mx;
    const y = monitor[index]! - my;
    if (x - x !== 0 || y - y !== 0) continue;
    xx += x * x;
    xy += x * y;
  }
  const slope = xx > 0 ? xy / xx : 0;
  const rest = new Float64Array(monitor.length);
  for (let index = 0; index < rest.length; index++) {
    if ((index & 0x1ffff) === 0) checkpoint(NaN, "take the drive out");
    rest[index] = monitor[index]! - my - slope * (drive[index]! - mx);
  }
  return rest;
}
