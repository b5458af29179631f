import { describe, expect, it } from "vitest";
import { dirname, fromFileUrl, join, normalize } from "@std/path";
import MarkdownIt from "markdown-it";

const root = fromFileUrl(new URL("../../", import.meta.url));

interface Document {
  /** Path from the root of the project. */
  readonly path: string;
  readonly text: string;
}

/** All Markdown files and the Markdown cells of all notebooks. */
function* documents(folder = ""): Generator<Document> {
  for (const { name, isDirectory } of Deno.readDirSync(join(root, folder))) {
    if (/^(\.|out$|node_modules$)/.test(name)) continue;
    const path = join(folder, name);
    if (isDirectory) yield* documents(path);
    else if (name.endsWith(".md")) {
      yield { path, text: Deno.readTextFileSync(join(root, path)) };
    } else if (name.endsWith(".ipynb")) {
      const { cells } = JSON.parse(Deno.readTextFileSync(join(root, path)));
      yield {
        path,
        text: cells
          .filter(({ cell_type }: { cell_type: string }) =>
            cell_type === "markdown"
          )
          .map(({ source }: { source: string | string[] }) =>
            [source].flat().join("")
          )
          .join("\n\n"),
      };
    }
  }
}

const all = [...documents()];

/** Anchors that a code host makes of headings. */
function anchors(text: string): Set<string> {
  return new Set(
    [...text.matchAll(/^#+\s+(.+)$/gm)].map(([, heading]) =>
      heading!.trim().toLowerCase().replace(/[^\p{L}\p{N}\s-]/gu, "")
        .replace(/\s/g, "-")
    ),
  );
}

function links({ text }: Document): string[] {
  const plain = text.replace(/```[\s\S]*?```/g, "").replace(/`[^`]*`/g, "");
  return [...plain.matchAll(/\]\(([^)\s]+)[^)]*\)/g)].map(([, to]) => to!);
}

describe("the documents", () => {
  it("have only links that lead to a file and a heading that exist", () => {
    const dead = all.flatMap((document) =>
      links(document)
        .filter((to) => !/^(https?|mailto):/.test(to))
        .filter((to) => {
          const [file = "", anchor] = to.split("#");
          const path = file === ""
            ? document.path
            : normalize(join(dirname(document.path), decodeURI(file)));
          const target = all.find((each) => each.path === path);
          if (anchor !== undefined) {
            return target === undefined || !anchors(target.text).has(anchor);
          }
          try {
            Deno.statSync(join(root, path));
            return false;
          } catch {
            return true;
          }
        })
        .map((to) => `${document.path}: ${to}`)
    );
    expect(dead).toEqual([]);
  });
  it("say of laser safety that local rules decide, in every notebook", () => {
    const silent = all
      .filter(({ path }) => path.endsWith(".ipynb"))
      .filter(({ text }) => !/laser safety officer/.test(text))
      .map(({ path }) => path);
    expect(silent).toEqual([]);
  });
  it("leave no mark of emphasis unread, as in a word that has one inside", () => {
    const renderer = new MarkdownIt({ html: true });
    const stray = all
      .filter(({ path }) => path.startsWith("notebooks/guide/"))
      .flatMap(({ path, text }) =>
        [
          ...renderer.render(text).replace(/<pre[^]*?<\/pre>/g, "")
            .replace(/<code[^]*?<\/code>/g, "").replace(/<[^>]+>/g, "")
            .matchAll(/.{0,15}[_*].{0,15}/g),
        ].map(([found]) => `${path}: ${found}`)
      );
    expect(stray).toEqual([]);
  });
});
