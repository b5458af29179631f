import { requireFields, requireList } from "../options/mod.ts";
import { figureBundle } from "./figure_bundle.ts";
import { slimTraces } from "./slim.ts";
import { defaultHeight, defaultWidth, theme } from "./theme.ts";

/** A plotly.js figure that shows itself, with the line that describes it. */
export interface Figure {
  /** Traces. */
  readonly data: readonly Readonly<Record<string, unknown>>[];
  /** Layout with the theme, title, width and height in CSS pixels. */
  readonly layout: Readonly<Record<string, unknown>>;
  /** One line that says what the figure shows; the picture's alternative text. */
  readonly caption: string;
}

/** What {@linkcode createFigure} needs. */
export interface FigureInput {
  /** Traces of plotly.js. */
  data: readonly Readonly<Record<string, unknown>>[];
  /** Layout of plotly.js; the theme stands under it. */
  layout?: Readonly<Record<string, unknown>>;
  /** One line that says what the figure shows. */
  caption: string;
}

const figureForm = {
  [Symbol.for("Jupyter.display")](this: Figure) {
    return figureBundle(this);
  },
  [Symbol.for("Deno.customInspect")](this: Figure) {
    return `Figure: ${this.caption}`;
  },
  toJSON(this: Figure) {
    return { data: this.data, layout: this.layout };
  },
};

/**
 * Makes a figure in the theme of this library. As the last value of a cell, or
 * given to `display()`, it shows as plotly.js where that is available and as a
 * static picture elsewhere. Lines of more than 6000 points are thinned so that
 * every spike stays.
 *
 * @param input Traces, layout and caption.
 * @returns The figure.
 *
 * @example
 * ```ts
 * import { createFigure } from "fringebook";
 * import { expect } from "vitest";
 *
 * const figure = createFigure({
 *   data: [{ type: "scatter", x: [0, 1, 2], y: [0, 1, 4] }],
 *   layout: {
 *     xaxis: { title: { text: "Time (s)" } },
 *     yaxis: { title: { text: "Displacement (µm)" } },
 *   },
 *   caption: "Displacement against time",
 * });
 * expect(figure.layout.width).toBe(760);
 * ```
 */
export function createFigure(input: FigureInput): Figure {
  const task = "make a figure";
  requireFields(input, "input", ["data", "caption"], task);
  requireList(input.data, "data", task);
  const { data, layout = {}, caption } = input;
  return Object.assign(Object.create(figureForm), {
    data: slimTraces(data),
    layout: {
      template: theme,
      width: defaultWidth,
      height: defaultHeight,
      ...layout,
    },
    caption,
  });
}

/**
 * Whether a value was made by {@linkcode createFigure}.
 *
 * @param value Any value.
 * @returns Whether it is a figure.
 *
 * @example
 * ```ts
 * import { isFigure } from "fringebook/display";
 * import { expect } from "vitest";
 *
 * expect(isFigure({ data: [], layout: {} })).toBe(false);
 * ```
 */
export function isFigure(value: unknown): value is Figure {
  return typeof value === "object" && value !== null &&
    Object.getPrototypeOf(value) === figureForm;
}
