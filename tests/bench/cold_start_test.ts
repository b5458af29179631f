import { describe, expect, it } from "vitest";

interface Dependency {
  readonly code?: { readonly specifier?: string };
  readonly isDynamic?: boolean;
}

interface Graph {
  readonly roots: readonly string[];
  readonly redirects: Readonly<Record<string, string>>;
  readonly modules: readonly {
    readonly specifier: string;
    readonly dependencies?: readonly Dependency[];
  }[];
}

/** Everything that is loaded by importing a module, dynamic imports left out. */
async function loadedBy(path: string): Promise<string[]> {
  const { stdout, success } = await new Deno.Command(Deno.execPath(), {
    args: ["info", "--json", path],
  }).output();
  expect(success).toBe(true);
  const graph: Graph = JSON.parse(new TextDecoder().decode(stdout));
  const modules = new Map(graph.modules.map((item) => [item.specifier, item]));
  const seen = new Set<string>();
  const open = [...graph.roots];
  for (let at = open.pop(); at !== undefined; at = open.pop()) {
    if (seen.has(at)) continue;
    seen.add(at);
    const module = modules.get(graph.redirects[at] ?? at);
    for (const { code, isDynamic } of module?.dependencies ?? []) {
      if (code?.specifier !== undefined && isDynamic !== true) {
        open.push(code.specifier);
      }
    }
  }
  return [...seen];
}

const library = new URL("../../lib/mod.ts", import.meta.url).pathname;

describe("import of the library", () => {
  it("loads neither danfojs, plotly.js nor jsdom", async () => {
    const loaded = await loadedBy(library);
    expect(loaded.length).toBeGreaterThan(100);
    const slow = /danfojs|plotly|jsdom|xlsx|tfjs|resvg|sanitize-html|highlight/;
    // Our own files may be named after the package that they load later.
    const packages = loaded.filter((specifier) =>
      !specifier.includes("/lib/runtime/")
    );
    expect(packages.filter((specifier) => slow.test(specifier))).toEqual([]);
  });
});

describe("the lock file of the tasks", () => {
  it("names no package of tests alone, and not danfojs: they are fetched when they are used", () => {
    const { npm } = JSON.parse(
      Deno.readTextFileSync(new URL("../../deno.lock", import.meta.url)),
    );
    const later = /^(playwright-core|axe-core|marked|danfojs)@/;
    expect(Object.keys(npm).filter((name) => later.test(name))).toEqual([]);
  });
});
