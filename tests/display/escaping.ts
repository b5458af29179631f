import { JSDOM } from "jsdom";
import { marked } from "./marked.ts";
import { printReport } from "fringebook";
import { expect } from "vitest";
import { visible } from "./nasty_text.ts";
import { sampleResult } from "./sample_results.ts";

const { DOMParser } = new JSDOM().window;

/** A page from HTML. */
export function parse(html: string): Document {
  return new DOMParser().parseFromString(html, "text/html");
}

/** The texts of all table cells, row after row. */
export function plainCells(html: string): string[][] {
  const document = parse(html);
  return [...document.querySelectorAll("tr")].map((tr) =>
    [...tr.children].map((cell) => visible(cell.textContent ?? ""))
  ).filter((cells) => cells.join("") !== "value");
}

const tags = new Set(
  "SECTION P STRONG TABLE TBODY TR TH TD DETAILS SUMMARY UL LI".split(" "),
);
const attributes = new Set(["class", "style", "scope", "role"]);

/** Puts a text in every place of an HTML report; all of it must stay text. */
export function requireTextInHtml(text: string): void {
  const html = printReport(sampleResult(text), { format: "html" });
  const document = parse(html);
  for (const element of document.body.querySelectorAll("*")) {
    if (!tags.has(element.tagName)) {
      throw new Error(`<${element.tagName}> from ${JSON.stringify(text)}`);
    }
    for (const { name } of element.attributes) {
      if (!attributes.has(name)) {
        throw new Error(`attribute ${name} from ${JSON.stringify(text)}`);
      }
    }
  }
  const comments = document.createTreeWalker(document.body, 128);
  expect(comments.nextNode()).toBe(null);
  const title = document.querySelector("section > p")?.textContent ?? "";
  expect(visible(title)).toBe(visible(`Sample ${text}`));
}

/** The same for a Markdown report, as a Markdown renderer reads it. */
export function requireTextInMarkdown(text: string): void {
  const markdown = printReport(sampleResult(text), { format: "markdown" });
  const html = marked.parse(markdown, { async: false, gfm: true });
  const document = parse(html);
  const allowed = /^(P|STRONG|BLOCKQUOTE|TABLE|THEAD|TBODY|TR|TH|TD|UL|LI)$/;
  for (const { tagName } of document.body.querySelectorAll("*")) {
    if (!allowed.test(tagName)) {
      throw new Error(`<${tagName}> from ${JSON.stringify(text)}`);
    }
  }
  const cells = plainCells(html);
  expect(cells.length).toBe(8);
  expect(cells[3]).toEqual(["text", visible(text), visible(text)]);
}
