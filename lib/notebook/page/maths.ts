import katex from "katex";
import type MarkdownIt from "markdown-it";
import { escapeHtml } from "./escape.ts";

/** Longest formula that is typeset, in characters, and most lines of one. */
const longestFormula = 5000;
const mostLines = 100;

/**
 * Typesets a formula when the page is made, so that it needs no script. A
 * formula with a mistake is shown as typed.
 *
 * @param formula In LaTeX.
 * @param display Whether it stands on a line of its own.
 * @returns HTML with MathML for screen readers.
 */
export function mathsHtml(formula: string, display: boolean): string {
  try {
    if (formula.length > longestFormula) throw new RangeError("too long");
    return katex.renderToString(formula, {
      displayMode: display,
      throwOnError: true,
      strict: "ignore",
      trust: false,
      maxExpand: 1000,
      maxSize: 20,
    });
  } catch {
    const text = display ? `$$${formula}$$` : `$${formula}$`;
    return `<code class="formula-as-typed">${escapeHtml(text)}</code>`;
  }
}

/**
 * Teaches markdown `$…$`, `$$…$$`, `\(…\)` and `\[…\]`, and environments that
 * stand alone.
 *
 * @param markdown Is changed.
 * @param keep Takes finished HTML and returns what stands for it.
 */
export function addMaths(
  markdown: InstanceType<typeof MarkdownIt>,
  keep: (html: string) => string,
): void {
  const put = (formula: string, display: boolean) =>
    keep(
      display
        ? `<div class="formula">${mathsHtml(formula, true)}</div>`
        : mathsHtml(formula, false),
    );

  markdown.inline.ruler.before("escape", "maths", (state, silent) => {
    const rest = state.src.slice(state.pos, state.pos + longestFormula + 4);
    const found = inlineForms
      .map(({ pattern, display }) => ({ match: pattern.exec(rest), display }))
      .find(({ match }) => match !== null);
    if (!found?.match) return false;
    const before = state.src[state.pos - 1] ?? "";
    if (found.match[0].startsWith("$") && before === "\\") return false;
    if (!silent) {
      const token = state.push("html_inline", "", 0);
      token.content = put(found.match[1]!, found.display);
    }
    state.pos += found.match[0].length;
    return true;
  });

  markdown.block.ruler.before(
    "fence",
    "maths_block",
    (state, start, end, silent) => {
      const line = (index: number) =>
        state.src.slice(
          state.bMarks[index]! + state.tShift[index]!,
          state.eMarks[index],
        );
      const first = line(start);
      const open = /^(\$\$|\\\[|\\begin\{([a-z]+\*?)\})/.exec(first);
      if (!open) return false;
      const close = open[1] === "$$"
        ? "$$"
        : open[1] === "\\["
        ? "\\]"
        : `\\end{${open[2]}}`;
      const texts = [first.slice(open[1]!.length)];
      let last = start;
      while (!texts.at(-1)!.includes(close)) {
        last++;
        if (last >= end || last - start > mostLines) return false;
        texts.push(line(last));
      }
      const text = texts.join("\n");
      const at = text.indexOf(close);
      if (text.slice(at + close.length).trim() !== "") return false;
      if (silent) return true;
      const inner = text.slice(0, at);
      const formula = open[2] ? `${open[1]}${inner}${close}` : inner;
      const token = state.push("html_block", "", 0);
      token.content = put(formula, true);
      state.line = last + 1;
      return true;
    },
    { alt: ["paragraph", "reference", "blockquote", "list"] },
  );
}

const inlineForms = [
  { pattern: /^\$\$([^$]+?)\$\$/, display: true },
  // Not "5 $ and 6 $": no space inside, no digit after.
  { pattern: /^\$((?!\s)(?:\\.|[^$\\])+?)(?<!\s)\$(?!\d)/, display: false },
  { pattern: /^\\\\?\(([\s\S]+?)\\\\?\)/, display: false },
  { pattern: /^\\\\?\[([\s\S]+?)\\\\?\]/, display: true },
];
