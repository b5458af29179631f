import { readAsset } from "./assets.ts";
import { type Box, parseTransform, transformBox } from "./box.ts";
import { PixelCanvas } from "./canvas.ts";
import { elementBox, textWidth } from "./element_box.ts";
import type { PageCanvas, PageDocument, PageElement } from "./page_dom.ts";
import { loadTextMetrics, type TextMetrics } from "./text_metrics.ts";

/** The part of plotly.js that is used here. */
export interface Plotly {
  newPlot(
    div: PageElement,
    data: unknown,
    layout: unknown,
    config: unknown,
  ): Promise<unknown>;
  purge(div: PageElement): void;
  Snapshot: {
    toSVG(
      div: PageElement,
      format: "svg",
      scale: number,
    ): string | Promise<string>;
  };
}

/** A page without a screen, with plotly.js loaded. */
export interface HeadlessPage {
  readonly document: PageDocument;
  readonly plotly: Plotly;
  /** Makes a value of the page from JSON text. */
  readonly parse: (json: string) => unknown;
}

let page: Promise<HeadlessPage> | null = null;

/**
 * The page that figures are drawn in: made at the first call, about half a
 * second, and kept.
 *
 * @returns The page.
 */
export function headlessPage(): Promise<HeadlessPage> {
  page ??= makePage().catch((error) => {
    page = null;
    throw error;
  });
  return page;
}

async function makePage(): Promise<HeadlessPage> {
  const [{ JSDOM }, code, metrics] = await Promise.all([
    import("jsdom"),
    readAsset("plotly.js"),
    loadTextMetrics(),
  ]);
  const { window } = new JSDOM("<!DOCTYPE html><body></body>", {
    runScripts: "outside-only",
  });
  addLayout(window, metrics);
  window.eval(new TextDecoder().decode(code));
  return {
    document: window.document,
    plotly: window.Plotly,
    parse: (json) => window.JSON.parse(json),
  };
}

/**
 * The page has no layout; plotly.js asks for the size of its labels, so they
 * are answered from font metrics.
 */
// deno-lint-ignore no-explicit-any
function addLayout(window: any, metrics: TextMetrics): void {
  const proto = window.SVGElement.prototype;
  proto.getBBox = function (this: PageElement) {
    return rectangle(elementBox(this, metrics));
  };
  proto.getComputedTextLength = function (this: PageElement) {
    return textWidth(this, metrics);
  };
  proto.getBoundingClientRect = function (this: PageElement) {
    return rectangle(boxInPicture(this, elementBox(this, metrics)));
  };
  // plotly.js asks for it when it loads; nothing here makes such addresses.
  window.URL.createObjectURL = () => "";
  const canvases = new WeakMap<object, PixelCanvas>();
  const canvasOf = (element: PageCanvas) => {
    const canvas = canvases.get(element) ?? new PixelCanvas();
    canvases.set(element, canvas);
    canvas.resize(element.width, element.height);
    return canvas;
  };
  const canvasProto = window.HTMLCanvasElement.prototype;
  canvasProto.getContext = function (this: PageCanvas, kind: string) {
    return kind === "2d" ? canvasOf(this) : null;
  };
  canvasProto.toDataURL = function (this: PageCanvas) {
    return canvasOf(this).toDataURL();
  };
}

/** A box in the frame of the `<svg>` around its element. */
function boxInPicture(element: PageElement | null, box: Box): Box {
  if (element === null || element.tagName.toLowerCase() === "svg") return box;
  const matrix = parseTransform(element.getAttribute("transform"));
  return boxInPicture(element.parentElement, transformBox(box, matrix));
}

function rectangle(box: Box) {
  const empty = box.left > box.right;
  const left = empty ? 0 : box.left;
  const top = empty ? 0 : box.top;
  const width = empty ? 0 : box.right - box.left;
  const height = empty ? 0 : box.bottom - box.top;
  return {
    x: left,
    y: top,
    left,
    top,
    width,
    height,
    right: left + width,
    bottom: top + height,
  };
}
