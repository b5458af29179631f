import { encodeBase64 } from "@std/encoding/base64";

/** Fonts by what in a formula's HTML asks for them. */
const fonts: readonly (readonly [name: string, asked: RegExp])[] = [
  ["KaTeX_Main-Regular", /class="katex/],
  ["KaTeX_Math-Italic", /mathnormal/],
  ["KaTeX_Main-Bold", /mathbf|textbf/],
  ["KaTeX_Main-Italic", /mathit|textit/],
  ["KaTeX_Math-BoldItalic", /boldsymbol/],
  ["KaTeX_AMS-Regular", /amsrm|mathbb|textbb/],
  ["KaTeX_Caligraphic-Regular", /mathcal/],
  ["KaTeX_Script-Regular", /mathscr|textscr/],
  ["KaTeX_Fraktur-Regular", /mathfrak|textfrak/],
  ["KaTeX_SansSerif-Regular", /mathsf|textsf/],
  ["KaTeX_Typewriter-Regular", /mathtt|texttt/],
  ["KaTeX_Size1-Regular", /size1|delimsizing|op-symbol/],
  ["KaTeX_Size2-Regular", /size2|large-op|delimsizing/],
  ["KaTeX_Size3-Regular", /size3|delimsizing/],
  ["KaTeX_Size4-Regular", /size4|delimsizing/],
];

/** Never run: names the package so that Deno fetches it with the others. */
export const packages = [
  () => import("katex/package.json", { with: { type: "json" } }),
];

/**
 * The style of the formulas of a page, with the fonts they use inside.
 *
 * @param html The page's HTML.
 * @returns A style sheet; empty where the page has no formulas.
 */
export async function mathsStyle(html: string): Promise<string> {
  if (!html.includes('class="katex')) return "";
  const read = (path: string) =>
    Deno.readFile(new URL(import.meta.resolve(`katex/dist/${path}`)));
  const sheet = new TextDecoder().decode(await read("katex.min.css"));
  const wanted = new Set(
    fonts.filter(([, asked]) => asked.test(html)).map(([name]) => name),
  );
  const faces = await Promise.all(
    [...sheet.matchAll(/@font-face\{[^}]*\}/g)].map(async ([face]) => {
      const name = /fonts\/([\w-]+)\.woff2/.exec(face)?.[1] ?? "";
      if (!wanted.has(name)) return "";
      const data = encodeBase64(await read(`fonts/${name}.woff2`));
      return face.replace(
        /src:[^;}]*/,
        `src:url(data:font/woff2;base64,${data}) format("woff2")`,
      );
    }),
  );
  return faces.join("") + sheet.replace(/@font-face\{[^}]*\}/g, "");
}
