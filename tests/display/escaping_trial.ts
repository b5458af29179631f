import { describe, it } from "vitest";
import { requireTextInHtml, requireTextInMarkdown } from "./escaping.ts";
import { nasty } from "./nasty_text.ts";

describe("the printers", () => {
  it("keep 600 random mixes of markup as text in HTML and Markdown", () => {
    for (let seed = 1000; seed < 1600; seed++) {
      requireTextInHtml(nasty(seed));
      requireTextInMarkdown(nasty(seed));
    }
  });
});
