import type { Heading } from "./markdown.ts";

/**
 * The table of contents of a page.
 *
 * @param headings All headings in order.
 * @returns A `<nav>`; empty where there are fewer than three headings.
 */
export function contentsHtml(headings: readonly Heading[]): string {
  const shown = headings.filter(({ level }) => level === 2 || level === 3);
  if (shown.length < 3) return "";
  const items = shown.map(({ level, id, html }) =>
    `<li class="level-${level}"><a href="#${id}">${html}</a></li>`
  );
  return `<nav class="contents" aria-label="Contents"><strong>Contents</strong><ol>${
    items.join("\n")
  }</ol></nav>`;
}
