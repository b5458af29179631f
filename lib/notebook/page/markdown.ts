import MarkdownIt from "markdown-it";
import { escapeHtml } from "./escape.ts";
import { highlight } from "./highlight.ts";
import { addMaths } from "./maths.ts";
import { sanitise } from "./sanitise.ts";

/** A heading, for the table of contents. */
export interface Heading {
  /** 1 to 6. */
  readonly level: number;
  readonly id: string;
  /** Plain text. */
  readonly text: string;
  /** As shown, with formulas. */
  readonly html: string;
}

/** Finds an image of the notebook: a `data:` address, or `null`. */
export type ImageSource = (address: string) => string | null;

/** Rewrites a link. */
export type LinkTarget = (address: string) => string;

/** Turns the markdown of a page's cells into HTML. */
export class MarkdownRenderer {
  readonly headings: Heading[] = [];
  readonly #ids = new Set<string>();
  readonly #kept: string[] = [];
  /** Nobody can write a mark that stands for kept HTML, as entities either. */
  readonly #secret = crypto.randomUUID();
  readonly #markdown = new MarkdownIt({
    html: true,
    typographer: false,
    highlight: (code, language) =>
      this.#keep(
        `<pre><code>${
          highlight(code, language.split(/\s/)[0] ?? "")
        }</code></pre>`,
      ),
  });

  /** @param link Rewrites links. */
  constructor(private readonly link: LinkTarget) {
    addMaths(this.#markdown, (html) => this.#keep(html));
    this.#markdown.validateLink = () => true;
  }

  /**
   * Turns the markdown of one cell into HTML.
   *
   * @param text Markdown; HTML in it is sanitised.
   * @param image Finds images.
   * @returns HTML without scripts and outside addresses of images.
   */
  render(text: string, image: ImageSource): string {
    const tokens = this.#markdown.parse(
      text.replace(/[\uE000\uE001]/g, ""),
      {},
    );
    tokens.forEach((token, index) => {
      if (token.type === "heading_open") {
        token.attrSet("id", this.#heading(token.tag, tokens[index + 1]));
      }
      for (const child of token.children ?? []) {
        if (child.type === "image") this.#image(child, image);
        if (child.type === "link_open") {
          child.attrSet("href", this.link(String(child.attrGet("href") ?? "")));
        }
      }
    });
    const html = this.#markdown.renderer.render(
      tokens,
      this.#markdown.options,
      {},
    );
    return this.#restore(sanitise(html, image)).replaceAll(
      /<table>[\s\S]*?<\/table>/g,
      (table) => `<div class="wide" tabindex="0">${table}</div>`,
    );
  }

  #heading(tag: string, inline: MarkdownToken | undefined): string {
    const html = this.#restore(sanitise(
      this.#markdown.renderer.render(
        inline ? [inline] : [],
        this.#markdown.options,
        {},
      ),
    ));
    const text = (inline?.content ?? "").replace(/[*_`$\\]/g, "").trim();
    const base = text.toLowerCase()
      .replace(/[^\p{L}\p{N}]+/gu, "-")
      .replace(/^-|-$/g, "") || "section";
    let id = base;
    for (let n = 2; this.#ids.has(id); n++) id = `${base}-${n}`;
    this.#ids.add(id);
    const unlinked = html.replace(/<\/?a\b[^>]*>/g, "");
    this.headings.push({ level: Number(tag[1]), id, text, html: unlinked });
    return id;
  }

  #image(token: MarkdownToken, image: ImageSource): void {
    const address = String(token.attrGet("src") ?? "");
    const source = image(address);
    if (source !== null) {
      token.attrSet("src", source);
      return;
    }
    // A page that works offline can only name what it does not carry.
    const text = token.content || address;
    token.type = "html_inline";
    token.tag = "";
    token.children = null;
    token.content = /^https?:/.test(address)
      ? `<a href="${escapeHtml(address)}">${escapeHtml(text)}</a>`
      : `<em>${
        escapeHtml(text)
      } (picture not found in the notebook's folder)</em>`;
  }

  #keep(html: string): string {
    this.#kept.push(html);
    // Begins as <pre so that the fence renderer takes it as it is.
    const mark = `\uE000${this.#secret}-${this.#kept.length - 1}\uE001`;
    return html.startsWith("<pre") ? `<pre>${mark}</pre>` : mark;
  }

  #restore(html: string): string {
    const mark = `\uE000${this.#secret}-(\\d+)\uE001`;
    return html
      .replace(
        new RegExp(`<pre>${mark}</pre>`, "g"),
        (_, n) => this.#kept[n] ?? "",
      )
      .replace(new RegExp(mark, "g"), (_, n) => this.#kept[n] ?? "");
  }
}

type MarkdownToken = ReturnType<
  InstanceType<typeof MarkdownIt>["parse"]
>[number];
