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
