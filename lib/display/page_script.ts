import { readAsset } from "./picture/mod.ts";

/**
 * The text of plotly.js, for a page that carries it once and works without a
 * network.
 *
 * @returns JavaScript that is safe inside a `<script>` element and defines
 * `Plotly`.
 *
 * @example
 * ```ts
 * import { loadPlotlyScript } from "fringebook/display";
 * import { expect } from "vitest";
 *
 * expect(await loadPlotlyScript()).not.toMatch(/<\/script/i);
 * ```
 */
export async function loadPlotlyScript(): Promise<string> {
  const code = new TextDecoder().decode(await readAsset("plotly.js"));
  return code.replace(/<\/(script)/gi, "<\\/$1").replaceAll("<!--", "<\\!--");
}

/**
 * Script that makes the static pictures of a page interactive in place. Each
 * `<figure class="fringebook-figure">` (see `pageFigureHtml`) that comes near
 * the screen is drawn by plotly.js, also one that is added later; the picture
 * stays where that is missing or fails, and comes back for printing. On a
 * narrow screen the tools go and the legend moves under the panels. On a dark
 * page figures are dark too. Figures whose layout has the same
 * `meta.linkedZoom` zoom together.
 */
export const activateFigures: string = String.raw`(() => {
  "use strict";
  if (typeof Plotly === "undefined" || globalThis.fringebookFigures) return;
  const config = {
    responsive: true, displaylogo: false,
    modeBarButtonsToRemove: ["sendChartToCloud", "lasso2d", "select2d"],
  };
  const linked = new Map();
  let follow = false;
  const link = (graph, group) => {
    const graphs = linked.get(group) ?? [];
    linked.set(group, [...graphs, graph]);
    graph.on("plotly_relayout", (change) => {
      if (follow) return;
      const zoom = {};
      for (const [key, value] of Object.entries(change)) {
        if (/^xaxis\.(range|autorange)/.test(key)) zoom[key] = value;
      }
      if (Object.keys(zoom).length === 0) return;
      follow = true;
      const others = (linked.get(group) ?? []).filter((other) => other !== graph);
      Promise.all(others.map((other) => Plotly.relayout(other, zoom)))
        .finally(() => { follow = false; });
    });
  };
  const specification = async (figure) => {
    const packed = figure.getAttribute("data-fringebook-figure");
    if (packed === null) {
      const source = figure.querySelector("script[type='application/vnd.plotly.v1+json']");
      return source === null ? null : JSON.parse(source.textContent);
    }
    const bytes = Uint8Array.from(atob(packed), (c) => c.charCodeAt(0));
    const stream = new Blob([bytes]).stream()
      .pipeThrough(new DecompressionStream("deflate"));
    return JSON.parse(await new Response(stream).text());
  };
  /** A phone has no room for tools, sliders and a legend over the panels. */
  const fitted = (layout, narrow) => {
    const free = { ...layout, autosize: true };
    delete free.width;
    if (!narrow) return free;
    delete free.sliders;
    free.title = { ...layout.title, font: { size: 12 } };
    free.legend = {
      ...layout.legend, y: -0.02, yanchor: "top", yref: "container", font: { size: 10 },
    };
    const legend = layout.showlegend !== false;
    free.margin = { ...layout.margin, l: 44, r: 8, t: 40, b: legend ? 110 : 52 };
    if (legend) {
      free.height = (layout.height ?? 400) + 40;
      free.legend = { ...free.legend, y: 0, yanchor: "bottom" };
    }
    return free;
  };
  const activate = async (figure) => {
    const picture = figure.querySelector("img");
    if (picture === null || figure.querySelector(".js-plotly-plot") !== null) return;
    const graph = document.createElement("div");
    try {
      const found = await specification(figure);
      if (found === null) return;
      const { data, layout } = found;
      const narrow = figure.clientWidth > 0 && figure.clientWidth < 520;
      const free = fitted(layout, narrow);
      graph.setAttribute("role", "group");
      graph.setAttribute("aria-label", picture.alt);
      graph.style.height = (free.height ?? 400) + "px";
      graph.style.maxWidth = (layout.width ?? 760) + "px";
      figure.insertBefore(graph, picture);
      await Plotly.newPlot(graph, data, free,
        narrow ? { ...config, displayModeBar: false } : config);
      const group = layout.meta?.linkedZoom;
      if (group !== undefined) link(graph, group);
      figure.classList.add("fringebook-active");
    } catch (error) {
      graph.remove();
      console.warn("Figure stays a picture: " + error);
    }
  };
  const style = document.createElement("style");
  const dark = "{ filter: invert(0.9) hue-rotate(180deg) }";
  style.textContent =
    "@media screen { .fringebook-active > img { display: none !important }" +
    " body[data-jp-theme-light='false'] .fringebook-figure > * " + dark +
    " body.vscode-dark .fringebook-figure > * " + dark + " }" +
    "@media print { .fringebook-active > div { display: none } }";
  document.head.append(style);
  const seen = new WeakSet();
  const observer = typeof IntersectionObserver === "undefined" ? null
    : new IntersectionObserver((entries) => {
      for (const entry of entries) {
        if (!entry.isIntersecting) continue;
        observer.unobserve(entry.target);
        activate(entry.target);
      }
    }, { rootMargin: "600px" });
  const scan = () => {
    for (const figure of document.querySelectorAll("figure.fringebook-figure")) {
      if (seen.has(figure)) continue;
      seen.add(figure);
      if (observer === null) activate(figure);
      else observer.observe(figure);
    }
  };
  globalThis.fringebookFigures = { scan };
  scan();
  // A notebook adds its figures one by one.
  if (typeof MutationObserver !== "undefined") {
    new MutationObserver(scan)
      .observe(document.documentElement, { childList: true, subtree: true });
  }
})();
`;
