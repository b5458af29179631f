/**
 * JupyterLab's own output renderers, for a test page: bundled by display.sh.
 *
 * @module
 */
// deno-lint-ignore-file no-explicit-any
import {
  MimeModel,
  RenderMimeRegistry,
  standardRendererFactories,
} from "@jupyterlab/rendermime";

(globalThis as any).renderOutput = async (data: any, trusted: boolean) => {
  const registry = new RenderMimeRegistry({
    initialFactories: standardRendererFactories,
  });
  const type = registry.preferredMimeType(data, trusted ? "any" : "ensure");
  if (type === undefined) return { type: null, html: "", width: 0, active: 0 };
  const renderer = registry.createRenderer(type);
  await renderer.renderModel(new MimeModel({ data, trusted }));
  document.body.append(renderer.node);
  const image = renderer.node.querySelector("img");
  if (image !== null) await image.decode();
  const active =
    [...renderer.node.querySelectorAll("*")].filter((element) =>
      /^(script|iframe|object|embed|form|link|style)$/i.test(element.tagName) ||
      [...element.attributes].some(({ name, value }) =>
        /^on/i.test(name) || /^\s*javascript:/i.test(value)
      )
    ).length;
  const html = renderer.node.innerHTML;
  const width = image?.naturalWidth ?? 0;
  if (document.body.children.length > 40) document.body.replaceChildren();
  return { type, html, width, active };
};
