import { escapeHtml } from "../../display/mod.ts";

/** A symbol as the documentation tool tells of it. */
export interface DocSymbol {
  readonly name: string;
  readonly declarations: readonly {
    readonly kind: string;
    readonly jsDoc?: { readonly doc?: string };
  }[];
}

/** A task and the names that serve it. */
export interface ApiTask {
  readonly title: string;
  readonly names: readonly string[];
}

/** What a door exports. */
export interface Door {
  readonly name: string;
  /** Where its pages lie. */
  readonly folder: string;
  readonly symbols: readonly DocSymbol[];
}

/**
 * Reads the tasks from the first door: a comment, and what is exported under it.
 * Types alone are no task.
 *
 * @param text Text of the door.
 */
export function tasksOf(text: string): ApiTask[] {
  return text.split(/^\/\/ /m).slice(1)
    .map((part) => ({
      title: part.slice(0, part.indexOf("\n")),
      names: [...part.matchAll(/^export \{([^}]*)\}/gm)].flatMap(([, names]) =>
        names!.split(",").map((name) => name.trim()).filter(Boolean)
      ),
    }))
    .filter(({ names }) => names.length > 0);
}

/** The reference on one page: by task, then what stands behind further doors. */
export function taskPage(
  { tasks, doors }: {
    readonly tasks: readonly ApiTask[];
    readonly doors: readonly Door[];
  },
): string {
  const docs = new Map<string, string>();
  for (const { symbols } of doors) {
    for (const { name, declarations } of symbols) {
      const doc = declarations.map(({ jsDoc }) => jsDoc?.doc ?? "")
        .find((each) => each !== "");
      if (doc !== undefined && !docs.has(name)) docs.set(name, sentence(doc));
    }
  }
  const shown = new Set<string>();
  const rows = (names: readonly string[], folder: string) =>
    names.map((name) => {
      shown.add(name);
      return `<tr><td><a href="${folder}~/${name}.html"><code>${
        escapeHtml(name)
      }</code></a></td><td>${escapeHtml(docs.get(name) ?? "")}</td></tr>`;
    }).join("\n");
  const section = (title: string, body: string) =>
    body === ""
      ? ""
      : `<section><h2>${
        escapeHtml(title)
      }</h2>\n<table>\n${body}\n</table></section>`;
  const first = tasks.map(({ title, names }) =>
    section(title, rows(names, ""))
  );
  const further = doors.slice(1).map(({ name, folder, symbols }) =>
    section(
      name,
      rows(
        symbols.filter(isValue).map((each) => each.name)
          .filter((each) => !shown.has(each)).sort(),
        folder,
      ),
    )
  );
  return `<!doctype html>
<html lang="en">
<meta charset="utf-8">
<meta name="viewport" content="width=device-width">
<title>Fringebook by task</title>
<style>
body { font: 16px/1.5 system-ui, sans-serif; max-width: 60rem; margin: 2rem auto; padding: 0 1rem; color-scheme: light dark; }
h1, h2 { font-weight: 600; } h2 { font-size: 1.1rem; margin: 1.6rem 0 .3rem; }
table { border-collapse: collapse; width: 100%; }
td { padding: .2rem .8rem .2rem 0; vertical-align: top; } td:first-child { width: 19rem; }
input { font: inherit; width: 100%; padding: .4rem; box-sizing: border-box; }
</style>
<h1>Fringebook by task</h1>
<p>What <code>import { … } from "fringebook"</code> has; below it what stands behind further doors. <a href="index.html">By door</a></p>
<label>Search<input type="search" id="search"></label>
${first.join("\n")}
<h1>Behind further doors</h1>
${further.filter(Boolean).join("\n")}
<script>
const search = document.getElementById("search");
search.addEventListener("input", () => {
  const words = search.value.toLowerCase().split(/\\s+/).filter(Boolean);
  for (const section of document.querySelectorAll("section")) {
    let any = false;
    for (const row of section.querySelectorAll("tr")) {
      const text = (section.firstChild.textContent + row.textContent).toLowerCase();
      row.hidden = !words.every((word) => text.includes(word));
      any ||= !row.hidden;
    }
    section.hidden = !any;
  }
});
</script>
</html>
`;
}

const isValue = ({ declarations }: DocSymbol) =>
  declarations.some(({ kind }) =>
    kind === "function" || kind === "class" || kind === "variable"
  );

/** The first sentence of a doc comment. */
function sentence(doc: string): string {
  const text = doc.replace(/\{@linkcode (\S+)\}/g, "$1").replaceAll("`", "")
    .split(/\n\s*\n/)[0]!.replace(/\s+/g, " ").trim();
  return /^.*?[.:](?=\s|$)/.exec(text)?.[0].replace(/:$/, ".") ?? text;
}
