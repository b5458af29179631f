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
 * import { plotlyScript } from "fringebook";
 * import { expect } from "vitest";
 *
 * expect(await plotlyScript()).not.toMatch(/<\/script/i);
 * ```
 */
export async function plotlyScript(): Promise<string> {
  const code = new TextDecoder().decode(await readAsset("plotly.js"));
  return code.replace(/<\/(script)/gi, "<\\/$1").replaceAll("<!--", "<\\!--");
}

/**
 * Script that makes the static pictures of a page interactive in place. Each
 * `<figure class="fringebook-figure">` (see `pageFigureHtml`) that comes near
 * the screen is drawn by plotly.js; the picture stays where that is missing or
 * fails, and comes back for printing. Figures whose layout has the same
 * `meta.linkedZoom` zoom together.
 */
export const activateFigures: string = String.raw`(() => {
  "use strict";
  if (typeof Plotly === "undefined") return;
  const config = { responsive: true, displaylogo: false };
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
  const activate = async (figure) => {
    const picture = figure.querySelector("img");
    const source = figure.querySelector("script[type='application/vnd.plotly.v1+json']");
    if (picture === null || source === null) return;
    const graph = document.createElement("div");
    try {
      const { data, layout } = JSON.parse(source.textContent);
      graph.setAttribute("role", "group");
      graph.setAttribute("aria-label", picture.alt);
      graph.style.height = (layout.height ?? 400) + "px";
      graph.style.maxWidth = (layout.width ?? 760) + "px";
      figure.insertBefore(graph, picture);
      const free = { ...layout, autosize: true };
      delete free.width;
      await Plotly.newPlot(graph, data, free, config);
      const group = layout.meta?.linkedZoom;
      if (group !== undefined) link(graph, group);
      figure.classList.add("fringebook-active");
    } catch (error) {
      graph.remove();
      console.warn("Figure stays a picture: " + error);
    }
  };
  const style = document.createElement("style");
  style.textContent =
    "@media screen { .fringebook-active > img { display: none } }" +
    "@media print { .fringebook-active > div { display: none } }";
  document.head.append(style);
  const figures = document.querySelectorAll("figure.fringebook-figure");
  if (typeof IntersectionObserver === "undefined") {
    figures.forEach(activate);
    return;
  }
  const observer = new IntersectionObserver((entries) => {
    for (const entry of entries) {
      if (!entry.isIntersecting) continue;
      observer.unobserve(entry.target);
      activate(entry.target);
    }
  }, { rootMargin: "600px" });
  figures.forEach((figure) => observer.observe(figure));
})();
`;
