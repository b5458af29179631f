import { marked } from "./marked.ts";
import { printReport } from "fringebook";
import { createResult, provenance, warn } from "fringebook/result";
import { describe, expect, it } from "vitest";
import {
  parse,
  plainCells,
  requireTextInHtml,
  requireTextInMarkdown,
} from "./escaping.ts";
import { nasty, visible } from "./nasty_text.ts";
import { sampleResult } from "./sample_results.ts";

describe("the printers", () => {
  it("show the same rows and the same warnings in text, HTML, Markdown and JSON", () => {
    const result = sampleResult("plain");
    const text = printReport(result);
    const html = printReport(result, { format: "html" });
    const markdown = printReport(result, { format: "markdown" });
    const json = JSON.parse(printReport(result, { format: "json" }));

    const rows = [...json.headlines, ...json.rows].map((
      row: { label: string; text: string; note: string },
    ) => [row.label, row.text, row.note]);
    expect(rows.length).toBe(8);
    expect(plainCells(html)).toEqual(rows);
    expect(plainCells(marked.parse(markdown, { async: false }))).toEqual(rows);
    for (const [label, value, note] of rows) {
      const line = text.split("\n").find((line) =>
        line.startsWith(`  ${label} `)
      );
      expect(line).toContain(value);
      expect(line).toContain(note);
    }

    expect(json.warnings.length).toBe(2);
    const page = visible(parse(html).body.textContent!);
    const rendered = visible(
      parse(marked.parse(markdown, { async: false })).body
        .textContent!,
    );
    for (const { code, message, severity } of json.warnings) {
      const mark = severity === "doubtful" ? "Doubtful" : "Note";
      for (const shown of [text, page, rendered]) {
        expect(shown).toContain(`${mark} (${code}): ${message}`);
      }
    }
    for (const shown of [text, page, rendered]) {
      expect(shown).toContain("By hand plain");
      expect(shown).toContain("Source: Nobody plain");
      expect(shown).toContain("A line plain");
      expect(shown).toContain("Capture plain (SHA-256 0123456789abcdef…)");
    }
  });

  it("show numbers in words: units, uncertainty, NaN, infinity, missing", () => {
    const text = printReport(sampleResult("x"));
    expect(text).toContain("(200.00 ± 0.60) mm, k = 2");
    expect(text).toContain("[200.00(30) mm]");
    expect(text).toContain("wavelength    650 nm");
    expect(text).toContain("1.000(20) mV");
    expect(text).toMatch(/flag +yes/);
    expect(text).toMatch(/missing +not determined/);
    expect(text).toMatch(/not a number +not determined/);
    expect(text).toMatch(/infinite +−∞ m/);
  });

  it("escape every text in HTML: 40 random mixes of markup stay text", () => {
    for (let seed = 1; seed <= 40; seed++) requireTextInHtml(nasty(seed));
  });

  it("escape every text in Markdown: 40 random mixes of markup stay text", () => {
    for (let seed = 1; seed <= 40; seed++) requireTextInMarkdown(nasty(seed));
  });

  it("keep every text on its line and free of control characters in plain text", () => {
    const lines = printReport(sampleResult("x")).split("\n").length;
    for (let seed = 1; seed <= 60; seed++) {
      const text = printReport(sampleResult(nasty(seed)));
      expect(text.split("\n").length).toBe(lines);
      // deno-lint-ignore no-control-regex
      expect(text).not.toMatch(/[\u0000-\u0009\u000b-\u001f\u007f-\u009f]/);
    }
  });

  it("print results of unknown kinds and survive a presenter that throws", () => {
    const strange = createResult({
      kind: "nobody.knows",
      count: 3,
      list: [1, 2],
      nothing: null,
      text: "<b>",
      nested: { a: 1 },
      warnings: [warn("w", "careful")],
      provenance: provenance({ method: "m" }),
      diagnostics: {},
    });
    const text = printReport(strange);
    expect(text).toContain("Knows");
    expect(text).toMatch(/count +3/);
    expect(text).toMatch(/list +2 entries/);
    expect(text).toContain("careful");
    const broken = createResult({
      kind: "capture.check",
      warnings: [warn("w", "careful")],
      provenance: provenance({ method: "m" }),
      diagnostics: {},
    });
    expect(printReport(broken)).toContain("could not be made");
    expect(printReport(broken)).toContain("careful");
  });
});

describe("a result", () => {
  it("prints itself in the console, as JSON and with String escapes intact", () => {
    const result = sampleResult("x");
    expect(Deno.inspect(result)).toBe(printReport(result));
    expect(JSON.parse(JSON.stringify(result)).length.value).toBe(0.2);
  });
});
