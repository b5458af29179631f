import { join } from "@std/path";
import {
  createCell,
  type Notebook,
  renderPage,
  writeWhole,
} from "../../notebook/mod.ts";

/** In pages, links to notebooks and guide pages lead to their pages. */
export function pageLink(address: string): string {
  return /^[a-z]+:/i.test(address)
    ? address
    : address.replace(/\.(ipynb|md)(?=$|#)/, ".html");
}

/**
 * Renders the Markdown pages of the guide beside the pages of the notebooks.
 *
 * @param from Folder of the guide.
 * @param to Folder of its pages.
 */
export async function writeGuidePages(from: string, to: string): Promise<void> {
  for await (const { name } of Deno.readDir(from)) {
    if (!name.endsWith(".md")) continue;
    const path = join(from, name);
    const guide: Notebook = {
      nbformat: 4,
      nbformat_minor: 5,
      metadata: {},
      cells: [createCell("markdown", await Deno.readTextFile(path))],
    };
    const page = await renderPage(guide, { path, link: pageLink });
    await writeWhole(join(to, name.replace(/\.md$/, ".html")), page);
  }
}
