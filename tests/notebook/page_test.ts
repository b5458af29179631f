import { describe, expect, it } from "vitest";
import { JSDOM } from "jsdom";
import {
  createCell,
  type NotebookOutput,
  renderPage,
} from "../../lib/notebook/mod.ts";
import { code, notebookOf } from "./harness.ts";

const png =
  "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAAAABJRU5ErkJggg==";

async function pageOf(...cells: Parameters<typeof notebookOf>) {
  const html = await renderPage(notebookOf(...cells));
  return { html, document: new JSDOM(html).window.document };
}

function markdown(source: string) {
  return createCell("markdown", source);
}

function shown(...outputs: NotebookOutput[]) {
  return { ...code("x", "1"), execution_count: 3, outputs };
}

function display(data: Record<string, unknown>): NotebookOutput {
  return { output_type: "display_data", data, metadata: {} };
}

const figure = display({
  "application/vnd.plotly.v1+json": {
    data: [{ y: [1, 2] }],
    layout: { width: 500 },
  },
  "image/png": png,
  "text/plain": "Figure: a line",
});

describe("a page", () => {
  it("needs nothing but itself", async () => {
    const { document } = await pageOf(
      markdown(
        "# Title\n\n![away](https://example.org/a.png) $x^2$\n\n[link](other.ipynb#part)",
      ),
      shown(figure),
    );
    // No address is loaded: neither in elements nor in styles.
    for (const element of document.querySelectorAll("[src], link, iframe")) {
      expect(element.getAttribute("src")).toMatch(/^data:/);
    }
    const styles = [...document.querySelectorAll("style")].map((style) =>
      style.textContent
    ).join("");
    for (const [, address] of styles.matchAll(/url\(([^)]{0,40})/g)) {
      expect(address).toMatch(/^data:/);
    }
    const policy = document.querySelector("meta[http-equiv]");
    expect(policy?.getAttribute("content")).toContain("default-src 'none'");
    expect(document.querySelector("main a")?.getAttribute("href")).toBe(
      "https://example.org/a.png",
    );
    expect(document.querySelector('a[href="other.html#part"]')).not.toBe(null);
  });

  it("shows every figure as a picture first, and carries plotly.js once", async () => {
    const { html, document } = await pageOf(shown(figure), shown(figure));
    const images = [...document.querySelectorAll("figure img")];
    expect(images.length).toBe(2);
    expect(images[0]?.getAttribute("alt")).toBe("a line");
    expect(images[0]?.getAttribute("src")).toBe(`data:image/png;base64,${png}`);
    const scripts = [...document.querySelectorAll("script:not([type])")];
    expect(scripts.length).toBe(2);
    // The policy lets these two scripts run and no other.
    expect(html.match(/sha256-/g)?.length).toBe(2);
    const still = await renderPage(notebookOf(shown(figure)), {
      interactive: false,
    });
    expect(still.length).toBeLessThan(100_000);
    expect(still).toContain(png);
  });

  it("carries no script where it has no figure", async () => {
    const { document } = await pageOf(markdown("# A"), shown());
    expect(document.querySelector("script")).toBe(null);
  });

  it("takes out whatever could run or load, in texts and in outputs", async () => {
    const hostile = [
      "<script>alert(1)</script>",
      '<img src="x" onerror="alert(1)">',
      '<img src="https://example.org/track.png">',
      '<a href="javascript:alert(1)">a</a>',
      '<iframe src="https://example.org"></iframe>',
      '<svg onload="alert(1)"><script>alert(1)</script><a href="javascript:alert(1)"><text>x</text></a></svg>',
      '<div style="background: url(https://example.org/a.png); position: fixed">x</div>',
      "<style>body { display: none }</style>",
      '<form action="https://example.org"><input type="submit" formaction="javascript:alert(1)"></form>',
      "<base href='https://example.org'><meta http-equiv='refresh' content='0;url=https://example.org'>",
      "[click](javascript:alert(1))",
      "[click](data:text/html;base64,PHNjcmlwdD4=)",
      "$\\href{javascript:alert(1)}{x}$ $\\htmlData{onclick=alert(1)}{y}$",
    ];
    const { document } = await pageOf(
      ...hostile.map(markdown),
      shown(
        ...hostile.map((html) => display({ "text/html": html })),
        ...hostile.map((text) => display({ "text/markdown": text })),
        ...hostile.map((text) => display({ "image/svg+xml": text })),
        ...hostile.map((text) => display({ "text/plain": text })),
        { output_type: "stream", name: "stdout", text: hostile },
        { output_type: "error", ename: "E", evalue: "", traceback: hostile },
      ),
    );
    expect(
      document.querySelectorAll("script, iframe, form, base, object").length,
    )
      .toBe(0);
    expect(document.querySelectorAll("meta[http-equiv=refresh]").length).toBe(
      0,
    );
    expect(document.querySelectorAll("style").length).toBe(1);
    for (const element of document.querySelectorAll("*")) {
      for (const { name, value } of [...element.attributes]) {
        expect(name.startsWith("on")).toBe(false);
        if (name === "href") {
          expect(value).not.toMatch(/^\s*(javascript|data):/i);
        }
        if (name === "src") expect(value).toMatch(/^data:image\//);
        if (name === "style") expect(value).not.toMatch(/url|position/);
      }
    }
  });

  it("typesets formulas when it is made, with MathML for screen readers", async () => {
    const { html, document } = await pageOf(markdown(
      "Inline $\\phi_0 = 4\\pi n L/\\lambda$ and\n\n$$\n\\frac{a}{b}\n$$\n\n\\begin{align}\na &= b \\\\\nc &= d\n\\end{align}\n\nIt costs 5 $ and 6 $, or \\$7. A wrong one: $\\frac{a$.",
    ));
    expect(document.querySelectorAll("math").length).toBe(3);
    expect(document.querySelectorAll(".formula").length).toBe(2);
    expect(document.body.textContent).toContain("5 $ and 6 $, or $7");
    expect(document.querySelector(".formula-as-typed")?.textContent).toBe(
      "$\\frac{a$",
    );
    // Only the fonts that are used.
    expect(html).toContain("KaTeX_Math");
    expect(html).not.toMatch(/@font-face\{font-family:"?KaTeX_Fraktur/);
  });

  it("leaves underscores and backslashes of formulas alone", async () => {
    const { document } = await pageOf(
      markdown("$a_1 b_2 * c * d$ and $x \\\\ y$ and `$not$`"),
    );
    const sources = [...document.querySelectorAll("annotation")].map((item) =>
      item.textContent
    );
    expect(sources).toEqual(["a_1 b_2 * c * d", "x \\\\ y"]);
    expect(document.querySelector("code")?.textContent).toBe("$not$");
  });

  it("has a title, a way past the contents, contents and headings with ids", async () => {
    const { document } = await pageOf(
      markdown("# The *title*"),
      markdown("## One & two\n\n### Part\n\n## One & two"),
    );
    expect(document.title).toBe("The title");
    expect(document.documentElement.lang).toBe("en");
    const links = [...document.querySelectorAll("nav a")].map((link) =>
      link.getAttribute("href")!
    );
    expect(links).toEqual(["#one-two", "#part", "#one-two-2"]);
    for (const link of [...links, "#text"]) {
      expect(document.getElementById(link.slice(1))).not.toBe(null);
    }
    expect(document.querySelector("main")).not.toBe(null);
  });

  it("shows code with its number, and outputs by their best form", async () => {
    const { document } = await pageOf(shown(
      display({ "text/html": "<b>bold</b>", "text/plain": "plain" }),
      display({ "text/markdown": "*slanted*", "text/plain": "plain" }),
      display({ "image/png": png, "text/plain": "a picture" }),
      display({ "text/latex": "$x$" }),
      display({ "application/json": { a: 1 } }),
      display({ "text/plain": ["two\n", "lines"] }),
      {
        output_type: "stream",
        name: "stdout",
        text: "10%\r20%\r100%\nab\bc\n\x1b[31mred\x1b[0m\n",
      },
      {
        output_type: "error",
        ename: "E",
        evalue: "bad",
        traceback: ["cell [3] line 1", "E: <bad>"],
      },
    ));
    const outputs = document.querySelector(".outputs")!;
    expect(outputs.querySelector("b")?.textContent).toBe("bold");
    expect(outputs.querySelector("em")?.textContent).toBe("slanted");
    expect(outputs.querySelector("img")?.getAttribute("alt")).toBe("a picture");
    expect(outputs.querySelector("math")).not.toBe(null);
    expect(outputs.querySelector(".stdout")?.textContent).toBe("100%\nac\nred");
    expect(outputs.querySelector(".error")?.textContent).toContain("E: <bad>");
    expect(outputs.textContent).toContain("two\nlines");
    expect(document.querySelector(".number")?.textContent).toBe("3");
    expect(document.querySelector("code span[class^=hljs]")).not.toBe(null);
  });

  it("embeds pictures of its text, and names those it has not", async () => {
    const cell = {
      ...markdown("![mine](attachment:p.png) ![lost](lost.png)"),
      attachments: { "p.png": { "image/png": png } },
    };
    const { document } = await pageOf(cell);
    expect(document.querySelector("img")?.getAttribute("src")).toBe(
      `data:image/png;base64,${png}`,
    );
    expect(document.body.textContent).toContain("lost (picture not found");
  });

  it("of a report shows what the cells show, not their code", async () => {
    const cells = [
      markdown("# Report"),
      shown(display({ "text/plain": "4.2 mm" })),
      { ...code("y", "let secret = 1;"), outputs: [] },
    ];
    const html = await renderPage(notebookOf(...cells), { code: false });
    const { document } = new JSDOM(html).window;
    expect(document.body.className).toContain("report");
    expect(document.querySelectorAll(".cell.code").length).toBe(1);
    expect(document.body.textContent).toContain("4.2 mm");
    expect(document.body.textContent).not.toContain("secret");
  });
  it("hides what its tags hide", async () => {
    const { document } = await pageOf(
      code("a", "secret1", ["remove-cell"]),
      code("b", "secret2", ["remove-input"]),
      code("c", "folded", ["hide-input"]),
    );
    expect(document.body.textContent).not.toContain("secret");
    expect(document.querySelector("details")?.textContent).toContain("folded");
  });
});
