import { currentCell } from "./cell.ts";
import { packText } from "./live_figure.ts";
import { activateFigures, loadPlotlyScript } from "./page_script.ts";

/** Key of an output's metadata that marks it as the library of the figures. */
export const libraryKey = "fringebook_library";

/** What a reader sees where scripts may not run. */
const note =
  "Figures can be zoomed once scripts may run here: trust this notebook.";

/**
 * Publishes plotly.js under the running cell, packed, unless the notebook holds
 * it already: figures become live where it is found, and stay pictures where it
 * is not. The notebook session says whether a cell holds it still.
 */
export async function publishFigureLibrary(): Promise<void> {
  await currentCell()?.publishOnce?.("figure library", async () => ({
    type: "display_data",
    data: { "text/html": await libraryHtml(), "text/plain": note },
    metadata: { [libraryKey]: "plotly.js" },
    displayId: null,
  }));
}

let html: Promise<string> | null = null;

/**
 * plotly.js as HTML for a notebook: one line that tells how to get live
 * figures, and a script that hides it and makes them live. About 0.66 MB.
 *
 * @returns HTML with one script.
 */
export function libraryHtml(): Promise<string> {
  return html ??= makeHtml().catch((error) => {
    html = null;
    throw error;
  });
}

async function makeHtml(): Promise<string> {
  const code = await loadPlotlyScript();
  return `<p class="fringebook-library"><small>${note}</small></p><script>${
    loader(packText(code))
  }</script>`;
}

/**
 * The script may run before its output is part of the page, and where a module
 * loader would take plotly.js for itself: hence nothing is looked up in the
 * page, and the code runs in a function that hides the loader.
 */
function loader(packed: string): string {
  return String.raw`(async () => {
  const hide = document.createElement("style");
  hide.textContent = ".fringebook-library { display: none }";
  document.head.append(hide);
  if (globalThis.fringebookFigures) return globalThis.fringebookFigures.scan();
  try {
    const bytes = Uint8Array.from(atob("${packed}"), (c) => c.charCodeAt(0));
    const stream = new Blob([bytes]).stream()
      .pipeThrough(new DecompressionStream("deflate"));
    const code = await new Response(stream).text();
    const script = document.createElement("script");
    script.text = "(function (module, exports, define, require) {" + code +
      "\n}).call(globalThis);";
    if (!globalThis.fringebookFigures) {
      document.head.append(script);
      script.remove();
    }
  } catch (error) {
    hide.remove();
    console.warn("Figures stay pictures: " + error);
    return;
  }
  ${activateFigures}
})();`;
}
