import { headlessPage } from "./headless_page.ts";

/** What is drawn: a plotly.js specification with a known size. */
export interface DrawnFigure {
  readonly data: readonly unknown[];
  readonly layout: Readonly<Record<string, unknown>>;
}

let queue: Promise<unknown> = Promise.resolve();

/**
 * Draws a figure as SVG with plotly.js, in a page without a screen. One at a
 * time: figures asked for together wait for each other.
 *
 * @param figure Specification; `layout.width` and `layout.height` in CSS
 * pixels.
 * @returns SVG text.
 */
export function drawSvg(figure: DrawnFigure): Promise<string> {
  const drawn = queue.then(() => drawNow(figure));
  queue = drawn.catch(() => {});
  return drawn;
}

async function drawNow({ data, layout }: DrawnFigure): Promise<string> {
  const { document, plotly, parse } = await headlessPage();
  const div = document.createElement("div");
  document.body.append(div);
  try {
    await plotly.newPlot(
      div,
      parse(JSON.stringify(data)),
      parse(JSON.stringify(layout)),
      { staticPlot: true },
    );
    return await plotly.Snapshot.toSVG(div, "svg", 1);
  } finally {
    plotly.purge(div);
    div.remove();
  }
}
