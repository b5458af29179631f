import { describe, expect, it } from "vitest";
import { JSDOM } from "jsdom";
import { decodeBase64 } from "@std/encoding/base64";
import {
  createCell,
  parseNotebook,
  readNotebook,
  renderPage,
} from "../../lib/notebook/mod.ts";
import { code, notebookOf } from "./harness.ts";

const png =
  "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAAAABJRU5ErkJggg==";

/** What would send a reader elsewhere, run or load, wherever it is put. */
const attack =
  `"><meta http-equiv="refresh" content="0;url=https://example.org"><script>alert(1)</script><img src=x onerror=alert(1)>`;

function demandHarmless(html: string) {
  const { document } = new JSDOM(html).window;
  for (const name of ["script:not([type])", "iframe", "base", "form", "link"]) {
    expect(document.querySelectorAll(name).length).toBe(0);
  }
  const metas = [...document.querySelectorAll("meta[http-equiv]")];
  expect(metas.map((meta) => meta.getAttribute("http-equiv")))
    .toEqual(["Content-Security-Policy"]);
  for (const element of document.querySelectorAll("*")) {
    for (const { name, value } of [...element.attributes]) {
      expect(name.startsWith("on")).toBe(false);
      if (name === "src") expect(value).toMatch(/^data:image\//);
    }
  }
  return document;
}

describe("a forged notebook", () => {
  // Every field of the notebook format (nbformat 4.5 schema), each forged in turn
  // in a cell of its own.
  const values: unknown[] = [
    attack,
    1e308,
    [attack, null, 5],
    { toString: null, [attack]: attack },
    null,
  ];
  const cellFields = ["execution_count", "id", "outputs", "attachments"];
  const outputFields = [
    ...["output_type", "data", "metadata", "text", "name"],
    ...["ename", "evalue", "traceback", "execution_count"],
  ];
  const mimes = [
    ...["text/plain", "text/html", "text/latex", "text/markdown", "image/png"],
    ...["image/svg+xml", "application/json"],
    "application/vnd.plotly.v1+json",
  ];
  const newCell = () => ({
    ...code("a", `const x = 1; // ${attack}`),
    execution_count: 1,
    outputs: [
      { output_type: "stream", name: "stdout", text: attack },
      { output_type: "error", ename: attack, evalue: attack, traceback: [] },
      {
        output_type: "display_data",
        data: { "text/plain": attack, "image/png": png },
        metadata: {},
      },
    ],
  } as ReturnType<typeof code>);
  const forged = values.flatMap((value) => [
    ...cellFields.map((field) => ({ ...newCell(), [field]: value })),
    ...cellFields.map((field) => ({
      ...createCell("markdown", attack),
      [field]: value,
    })),
    ...outputFields.map((field) => {
      const cell = newCell();
      for (const output of cell.outputs!) output[field] = value;
      return cell;
    }),
    ...mimes.map((mime) => {
      const cell = newCell();
      for (const output of cell.outputs!) {
        output["data"] = { [mime]: value, "image/png": png };
        output["metadata"] = { [mime]: { width: value } };
      }
      return cell;
    }),
    { ...newCell(), metadata: { tags: value } },
  ]);
  it("makes no page that sends its reader elsewhere, runs or loads", async () => {
    const notebook = notebookOf(...forged);
    notebook.metadata["language_info"] = values;
    notebook.metadata["title"] = attack;
    const html = await renderPage(notebook, { interactive: false });
    demandHarmless(html);
    // All cells that are not hidden are there.
    expect(html.match(/<section class="cell/g)!.length).toBe(forged.length);
  });
  it("counts its cells with numbers alone once it is read", () => {
    const cells = [{ ...code("a", "1"), execution_count: attack }];
    const text = JSON.stringify({ ...notebookOf(), cells });
    expect(parseNotebook(text).cells[0]!.execution_count).toBe(null);
  });
  it("cannot put kept HTML into attributes", async () => {
    const text =
      '```ts\nconst a = "x";\n```\n\n[a](b "&#xE000;0&#xE001;") ![&#xE000;0&#xE001;](x.png)';
    const html = await renderPage(notebookOf(createCell("markdown", text)));
    const document = demandHarmless(html);
    expect(document.querySelectorAll("pre code").length).toBe(1);
  });
  it("cannot take the place of the page's own parts, or cover them", async () => {
    const html = await renderPage(notebookOf(createCell(
      "markdown",
      '<div class="skip contents mine" style="margin-top: -900px; margin: 1em">x</div>',
    )));
    const div = demandHarmless(html).querySelector("main div")!;
    expect(div.getAttribute("class")).toBe("mine");
    expect(div.getAttribute("style")).toBe("margin:1em");
  });
  it("is typeset in time, however many formulas it opens", async () => {
    for (const text of ["\\(", "$x", "\\[\n", "$$\n", "\\begin{a}\n"]) {
      const source = text.repeat(3000);
      await renderPage(notebookOf(createCell("markdown", source)));
    }
  });
});

describe("pictures of a page", () => {
  const bytes = decodeBase64(png);
  const page = async (folder: string, text: string) => {
    const path = `${folder}/lab/notes.ipynb`;
    const html = await renderPage(notebookOf(createCell("markdown", text)), {
      path,
    });
    const { document } = new JSDOM(html).window;
    return document.querySelectorAll("img").length;
  };
  const withLab = async (body: (folder: string) => Promise<void>) => {
    const folder = await Deno.makeTempDir();
    try {
      await Deno.mkdir(`${folder}/lab/figures`, { recursive: true });
      await Deno.writeFile(`${folder}/private.png`, bytes);
      await Deno.writeFile(`${folder}/lab/figures/a b.png`, bytes);
      await Deno.writeTextFile(`${folder}/lab/secret.txt`, "secret");
      await Deno.writeTextFile(`${folder}/lab/fake.png`, "secret");
      await Deno.symlink(`${folder}/private.png`, `${folder}/lab/link.png`);
      await Deno.symlink(folder, `${folder}/lab/up`);
      await Deno.symlink(`${folder}/lab/secret.txt`, `${folder}/lab/named.png`);
      await body(folder);
    } finally {
      await Deno.remove(folder, { recursive: true });
    }
  };
  it("come from the notebook's folder", async () => {
    await withLab(async (folder) => {
      expect(await page(folder, "![a](figures/a%20b.png)")).toBe(1);
    });
  });
  it("never from elsewhere, through a link, or from what is no picture", async () => {
    await withLab(async (folder) => {
      for (
        const address of [
          "../private.png",
          "figures/../../private.png",
          "link.png",
          "up/private.png",
          "named.png",
          "fake.png",
          "secret.txt",
          `${folder}/private.png`,
          `file://${folder}/private.png`,
          "%2e%2e/private.png",
          "%",
          "%E0%A4%A",
        ]
      ) {
        expect(await page(folder, `![a](${address})`)).toBe(0);
        expect(await page(folder, `<img src="${address}">`)).toBe(0);
      }
    });
  });
});

describe("a notebook that is no file", () => {
  it("is refused: a pipe, a device", async () => {
    const folder = await Deno.makeTempDir();
    try {
      await new Deno.Command("mkfifo", { args: [`${folder}/a.ipynb`] })
        .output();
      await expect(readNotebook(`${folder}/a.ipynb`)).rejects.toThrow("a pipe");
      await expect(readNotebook("/dev/zero")).rejects.toThrow("a device");
    } finally {
      await Deno.remove(folder, { recursive: true });
    }
  });
});
