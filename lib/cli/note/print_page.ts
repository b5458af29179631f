import { join, resolve, toFileUrl } from "@std/path";
import { writeWhole } from "../../files/mod.ts";

/** Programs of browsers that print a page without a window. */
const programs = [
  "chromium",
  "chromium-browser",
  "chrome",
  "google-chrome",
  "google-chrome-stable",
  "msedge",
  "microsoft-edge",
];

/** How long a browser may take for one page, in ms. */
const longest = 120_000;

/**
 * Prints a self-contained page to a PDF file with a browser of the machine.
 *
 * @param page The page, HTML that needs nothing else.
 * @param path Where the PDF goes.
 * @param browser The browser's program; where left out, the first that is found.
 * @returns Whether it was printed: `false` where no browser was found.
 * @throws {Error} If the browser did not print it.
 */
export async function printPage(
  page: string,
  path: string,
  browser?: string,
): Promise<boolean> {
  const work = await Deno.makeTempDir({ prefix: "fringebook-print-" });
  try {
    const from = join(work, "page.html");
    const to = join(work, "page.pdf");
    await writeWhole(from, page);
    const args = [
      "--headless",
      "--disable-gpu",
      "--no-pdf-header-footer",
      `--user-data-dir=${join(work, "profile")}`,
      // A sandbox of its own is not to be had by root
      ...(Deno.build.os !== "windows" && Deno.uid() === 0
        ? ["--no-sandbox"]
        : []),
      `--print-to-pdf=${to}`,
      toFileUrl(resolve(from)).href,
    ];
    for (const program of browser === undefined ? programs : [browser]) {
      const said = await runProgram(program, args);
      if (said === null) continue;
      const bytes = await Deno.readFile(to).catch(() => {
        const last = said.trim().split("\n").at(-1) ?? "";
        throw new Error(
          `Cannot print '${path}' as '${program}' made no PDF: ${
            last.slice(0, 300)
          }`,
        );
      });
      await writeWhole(path, bytes);
      return true;
    }
    return false;
  } finally {
    await Deno.remove(work, { recursive: true }).catch(() => {});
  }
}

/** What a program said; `null` where there is no such program. */
async function runProgram(
  program: string,
  args: string[],
): Promise<string | null> {
  try {
    const { stderr } = await new Deno.Command(program, {
      args,
      stdin: "null",
      stdout: "null",
      stderr: "piped",
      signal: AbortSignal.timeout(longest),
    }).output();
    return new TextDecoder().decode(stderr);
  } catch (error) {
    if (error instanceof Deno.errors.NotFound) return null;
    throw error;
  }
}
