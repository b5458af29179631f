import {
  type Box,
  emptyBox,
  joinBoxes,
  parseTransform,
  transformBox,
} from "./box.ts";
import type { PageElement } from "./page_dom.ts";
import type { TextMetrics } from "./text_metrics.ts";

/** Line height of text as a part of the font size, as plotly.js has it. */
const lineHeight = 1.3;

/**
 * The box of an SVG element in its own frame, as `getBBox` gives it in a
 * browser: text by font metrics, groups by their children, shapes by their
 * numbers.
 *
 * @param element An element of the DOM that has no layout of its own.
 * @param metrics Font metrics.
 * @returns The box; empty for what has no extent.
 */
export function elementBox(element: PageElement, metrics: TextMetrics): Box {
  const tag = element.tagName.toLowerCase();
  if (tag === "text") return textBox(element, metrics);
  if (tag === "rect" || tag === "image") {
    const left = number(element, "x");
    const top = number(element, "y");
    return {
      left,
      top,
      right: left + number(element, "width"),
      bottom: top + number(element, "height"),
    };
  }
  if (tag === "path") return pathBox(element.getAttribute("d") ?? "");
  if (tag === "g" || tag === "svg" || tag === "a") {
    let box = emptyBox;
    for (const child of Array.from(element.children)) {
      const matrix = parseTransform(child.getAttribute("transform"));
      box = joinBoxes(box, transformBox(elementBox(child, metrics), matrix));
    }
    return box;
  }
  return emptyBox;
}

/** Font size of an element, in CSS pixels, from the nearest style. */
export function fontSize(element: PageElement | null): number {
  for (let at = element; at !== null; at = at.parentElement) {
    const size = /font-size:\s*([\d.]+)(px|%)/.exec(
      at.getAttribute("style") ?? "",
    );
    if (size === null) continue;
    const value = Number(size[1]);
    return size[2] === "%" ? value / 100 * fontSize(at.parentElement) : value;
  }
  return 12;
}

/** Width of the text of an element with its smaller parts (sub, sup). */
export function textWidth(element: PageElement, metrics: TextMetrics): number {
  let width = 0;
  for (const node of Array.from(element.childNodes)) {
    if (node.nodeType === 3) {
      width += metrics.width(node.nodeValue ?? "", fontSize(element));
    } else if (node.nodeType === 1) {
      width += textWidth(node as PageElement, metrics);
    }
  }
  return width;
}

function textBox(element: PageElement, metrics: TextMetrics): Box {
  const lines = Array.from(element.children).filter((child) =>
    child.classList.contains("line")
  );
  const widths = lines.length === 0
    ? [textWidth(element, metrics)]
    : lines.map((line) => textWidth(line, metrics));
  const width = Math.max(...widths);
  if (width === 0) return emptyBox;
  const size = fontSize(element);
  const x = number(element, "x");
  const y = number(element, "y") + size * emShift(element.getAttribute("dy"));
  const anchor = element.getAttribute("text-anchor") ??
    /text-anchor:\s*(\w+)/.exec(element.getAttribute("style") ?? "")?.[1] ??
    "start";
  const left = anchor === "middle"
    ? x - width / 2
    : anchor === "end"
    ? x - width
    : x;
  return {
    left,
    top: y - metrics.ascent * size,
    right: left + width,
    bottom: y + (metrics.descent + (widths.length - 1) * lineHeight) * size,
  };
}

function emShift(shift: string | null): number {
  return shift !== null && shift.endsWith("em") ? parseFloat(shift) : 0;
}

/** Extent of the absolute and relative steps of a path; arcs by their ends. */
function pathBox(path: string): Box {
  let box = emptyBox;
  let [x, y] = [0, 0];
  for (
    const [, letter = "", list = ""] of path.matchAll(/([a-z])([^a-z]*)/gi)
  ) {
    const numbers = (list.match(/[-+]?(?:\d*\.)?\d+(?:e[-+]?\d+)?/gi) ?? [])
      .map(Number);
    const relative = letter === letter.toLowerCase();
    const kind = letter.toUpperCase();
    if (kind === "Z") continue;
    const size = { H: 1, V: 1, A: 7, C: 6, S: 4, Q: 4 }[kind] ?? 2;
    for (let at = 0; at + size <= numbers.length; at += size) {
      const last = numbers[at + size - 1] ?? 0;
      const before = numbers[at + size - 2] ?? 0;
      if (kind === "H") x = relative ? x + last : last;
      else if (kind === "V") y = relative ? y + last : last;
      else {
        x = relative ? x + before : before;
        y = relative ? y + last : last;
      }
      box = joinBoxes(box, { left: x, top: y, right: x, bottom: y });
    }
  }
  return box;
}

function number(element: PageElement, name: string): number {
  const value = Number.parseFloat(element.getAttribute(name) ?? "");
  return Number.isFinite(value) ? value : 0;
}
