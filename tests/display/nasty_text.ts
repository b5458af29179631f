import { createRandom } from "fringebook/signal";

/** Pieces that break careless printers. */
export const pieces = [
  "<script>alert(1)</script>",
  "<img src=x onerror=alert(1)>",
  "</td></tr></table>",
  '" onmouseover="x',
  "' style='x",
  "&amp;",
  "&#x3c;b&#x3e;",
  "`code`",
  "**bold**",
  "__under__",
  "[link](javascript:alert(1))",
  "![img](http://x.example/y.png)",
  "https://x.example/",
  "www.x.example",
  "a@b.example",
  "| cell |",
  "\n\n# heading\n",
  "\r\n- item\n",
  "\u0000\u001b[31m\u009b",
  "\u202eright to left",
  "\u2028",
  "<!--",
  "-->",
  "]]>",
  "$x^2$",
  "~~gone~~",
  "\\",
  "\ud800",
  "1. one",
  "µ ± Ω λ",
  "|",
  "<",
  "`",
];

export function nasty(seed: number): string {
  const random = createRandom(seed);
  return Array.from(
    { length: 1 + random.integer(5) },
    () => pieces[random.integer(pieces.length)]!,
  ).join(random.integer(2) === 0 ? " " : "");
}

/** What a printer may show of a text: one line, controls made visible. */
export function visible(text: string): string {
  return text.toWellFormed()
    .replace(
      // deno-lint-ignore no-control-regex
      /[\u0000-\u0008\u000e-\u001f\u007f-\u0084\u0086-\u009f\u202a-\u202e\u2066-\u2069]/g,
      "\ufffd",
    )
    .replace(/\s+/g, " ").trim();
}
