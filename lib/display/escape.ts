import { requireText } from "../options/mod.ts";
/**
 * Makes text safe to stand in HTML, between tags and in quoted attributes:
 * markup characters become entities, and control characters (which a file may
 * carry but no reader can see) become a visible replacement character.
 *
 * @param text Untrusted text.
 * @returns HTML that shows the same text.
 *
 * @example
 * ```ts
 * import { escapeHtml } from "fringebook/display";
 * import { expect } from "vitest";
 *
 * expect(escapeHtml("<b title='x'>&")).toBe(
 *   "&lt;b title=&#39;x&#39;&gt;&amp;",
 * );
 * ```
 */
export function escapeHtml(text: string): string {
  requireText(text, "text", "make a text safe to show");
  return withoutControls(text)
    .replaceAll("&", "&amp;")
    .replaceAll("<", "&lt;")
    .replaceAll(">", "&gt;")
    .replaceAll('"', "&quot;")
    .replaceAll("'", "&#39;")
    .replaceAll("`", "&#96;");
}

/**
 * Makes text safe to stand in one line or table cell of Markdown: no markup, no
 * HTML, no link, no new line.
 *
 * @param text Untrusted text.
 * @returns Markdown that shows the same text.
 *
 * @example
 * ```ts
 * import { escapeMarkdown } from "fringebook/display";
 * import { expect } from "vitest";
 *
 * expect(escapeMarkdown("a|b *c*")).toBe("a\\|b \\*c\\*");
 * ```
 */
export function escapeMarkdown(text: string): string {
  requireText(text, "text", "make a text safe to show");
  return oneLine(text)
    .replace(/[\\`*_{}[\]()#+!|~$^]/g, "\\$&")
    .replaceAll("&", "&amp;")
    .replaceAll("<", "&lt;")
    .replaceAll(">", "&gt;")
    // Bare links would become live: "https://…" and "www.…".
    .replace(/:(?=\/\/)/g, "&#58;")
    .replace(/www\./gi, (www) => www.slice(0, 3) + "&#46;")
    .replaceAll("@", "&#64;")
    .replace(/^(\s*)([-=])/, "$1\\$2")
    .replace(/^(\s*\d+)\./, "$1\\.");
}

/**
 * Text on one line of a terminal: new lines become spaces and control
 * characters (colour codes, cursor moves) become visible.
 *
 * @param text Untrusted text.
 * @returns One line.
 *
 * @example
 * ```ts
 * import { oneLine } from "fringebook/display";
 * import { expect } from "vitest";
 *
 * expect(oneLine("two\nlines")).toBe("two lines");
 * ```
 */
export function oneLine(text: string): string {
  requireText(text, "text", "make a text safe to show");
  return withoutControls(text.replace(/[\r\n\t\v\f\u0085\u2028\u2029]+/g, " "));
}

/** C0 and C1 controls and text-direction overrides become U+FFFD. */
function withoutControls(text: string): string {
  return text.toWellFormed().replace(
    // deno-lint-ignore no-control-regex
    /[\u0000-\u0008\u000b\u000c\u000e-\u001f\u007f-\u009f\u202a-\u202e\u2066-\u2069]/g,
    "\ufffd",
  );
}
