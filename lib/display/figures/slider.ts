import type { ShownAxis } from "../axis.ts";

/** A slider that chooses which traces are seen; works without a kernel. */
export function traceSlider(
  label: string,
  choices: readonly { name: string; visible: readonly boolean[] }[],
): Record<string, unknown> {
  return {
    active: 0,
    currentvalue: { prefix: `${label}: `, font: { size: 12 } },
    pad: { t: 46 },
    len: 0.9,
    x: 0.05,
    steps: choices.map(({ name, visible }) => ({
      label: name,
      method: "restyle",
      args: [{ visible }],
    })),
  };
}

/** A slider over windows of the shared axis; its first place shows all. */
export function windowSlider(
  label: string,
  x: ShownAxis,
  from: number,
  to: number,
  count: number,
): Record<string, unknown> {
  const edge = (k: number) => x.scale(from + (to - from) * k / count);
  const range = (low: number, high: number) => [edge(low), edge(high)];
  return {
    active: 0,
    currentvalue: { prefix: `${label}: `, font: { size: 12 } },
    pad: { t: 46 },
    len: 0.9,
    x: 0.05,
    steps: [
      {
        label: "all",
        method: "relayout",
        args: [{ "xaxis.range": range(0, count) }],
      },
      ...Array.from({ length: count }, (_, k) => ({
        label: `${Number(edge(k)?.toPrecision(3))} ${x.unit}`.trim(),
        method: "relayout",
        args: [{ "xaxis.range": range(k, k + 1) }],
      })),
    ],
  };
}
