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

async function drawNow(figure: DrawnFigure): Promise<string> {
  const { data } = figure;
  // What can only be moved with a pointer has no place in a picture.
  const { sliders: _sliders, updatemenus: _menus, ...layout } = figure.layout;
  const { images } = layout;
  if (Array.isArray(images) && images.length > 0) {
    // plotly.js would wait for them for ever.
    throw new RangeError(
      "Cannot draw a picture of a figure with 'images' in its layout, as nothing loads them here: leave them out",
    );
  }
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
    const svg = await plotly.Snapshot.toSVG(div, "svg", 1);
    return svg
      // Quoted references are right in CSS, but the rasteriser takes none.
      .replace(/url\((['"])(#[^'"()]+)\1\)/g, "url($2)")
      // The cells of a heat map keep their edges.
      .replaceAll("<image ", '<image image-rendering="optimizeSpeed" ');
  } finally {
    plotly.purge(div);
    div.remove();
  }
}
