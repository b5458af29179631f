import { escape } from "@std/html";
import type { CalibrationRecord } from "./record.ts";

const width = 520;
const left = 74;
const right = 20;

/** A linear scale with round steps. */
interface Scale {
  readonly at: (value: number) => number;
  readonly ticks: readonly number[];
  readonly digits: number;
}

/**
 * The points with the line, and below what they differ from it, with bars of
 * their standard uncertainties, as a drawing that needs nothing.
 */
export function certificateChart(record: CalibrationRecord): string {
  const slope = record.values.stepsPerCurrentAndDistance.value;
  const zero = record.values.zeroOffset.value;
  const points = record.points.map((point) => ({
    distance: 1e3 * point.distance,
    steps: 1e-3 * point.stepsPerCurrent,
    residual: 1e3 * point.residual,
    spread: 1e3 * Math.hypot(
      point.distanceStandardUncertainty,
      point.stepsStandardUncertainty / slope,
    ),
  }));
  const x = scaleOf(
    points.map(({ distance }) => distance),
    left,
    width - right,
  );
  const y = scaleOf(points.map(({ steps }) => steps), 150, 12);
  const r = scaleOf(
    points.flatMap(({ residual, spread }) => [
      residual - spread,
      residual + spread,
      0,
    ]),
    250,
    180,
  );
  const lineAt = (distance: number) => 1e-3 * slope * (1e-3 * distance - zero);
  const [first, last] = [x.ticks[0]!, x.ticks.at(-1)!];
  const dots = points.map(({ distance, steps, residual, spread }) => {
    const cx = n(x.at(distance));
    return `<circle cx="${cx}" cy="${n(y.at(steps))}" r="2.4" fill="#123"/>` +
      `<path d="M${cx} ${n(r.at(residual - spread))}V${
        n(r.at(residual + spread))
      }" stroke="#123" stroke-width="1"/>` +
      `<circle cx="${cx}" cy="${n(r.at(residual))}" r="2.4" fill="#123"/>`;
  });
  return `<svg viewBox="0 0 ${width} 298" role="img" aria-label="${
    escape(
      "Steps per current against distance with the line, and the differences of the points from it",
    )
  }">
${frame(x, y, 12, 150, false)}
${frame(x, r, 180, 250, true)}
<path d="M${n(x.at(first))} ${n(y.at(lineAt(first)))}L${n(x.at(last))} ${
    n(y.at(lineAt(last)))
  }" stroke="#06c" fill="none"/>
<path d="M${left} ${n(r.at(0))}H${width - right}" stroke="#06c"/>
${dots.join("\n")}
<text x="${
    (left + width) / 2
  }" y="292" text-anchor="middle">distance (mm)</text>
<text transform="translate(14 81) rotate(-90)" text-anchor="middle">steps per mA</text>
<text transform="translate(14 215) rotate(-90)" text-anchor="middle">off line (mm)</text>
</svg>`;
}

function frame(
  x: Scale,
  y: Scale,
  top: number,
  bottom: number,
  labelled: boolean,
): string {
  const across = y.ticks.map((tick) =>
    `<path d="M${left} ${n(y.at(tick))}H${width - right}" stroke="#ddd"/>` +
    `<text x="${left - 5}" y="${n(y.at(tick) + 3)}" text-anchor="end">${
      tick.toFixed(y.digits)
    }</text>`
  );
  const down = x.ticks.map((tick) =>
    `<path d="M${n(x.at(tick))} ${bottom}v4" stroke="#555"/>` +
    (labelled
      ? `<text x="${n(x.at(tick))}" y="${bottom + 16}" text-anchor="middle">${
        tick.toFixed(x.digits)
      }</text>`
      : "")
  );
  return `${across.join("")}${
    down.join("")
  }<path d="M${left} ${top}V${bottom}H${
    width - right
  }" stroke="#555" fill="none"/>`;
}

function scaleOf(values: readonly number[], from: number, to: number): Scale {
  const low = Math.min(...values);
  const high = Math.max(...values);
  const span = high - low || Math.abs(high) || 1;
  const raw = span / 4;
  const power = 10 ** Math.floor(Math.log10(raw));
  const step = power * ([1, 2, 5, 10].find((m) => m * power >= raw) ?? 10);
  const first = Math.floor((low - 0.02 * span) / step);
  const end = Math.ceil((high + 0.02 * span) / step);
  const ticks = Array.from(
    { length: Math.max(2, end - first + 1) },
    (_, i) => (first + i) * step,
  );
  const [a, b] = [ticks[0]!, ticks.at(-1)!];
  return {
    at: (value) => from + (value - a) / (b - a) * (to - from),
    ticks,
    digits: Math.max(0, -Math.floor(Math.log10(step) + 1e-9)),
  };
}

function n(value: number): string {
  return value.toFixed(1);
}
