// deno-lint-ignore no-import-prefix -- of these suites alone, not in the lock file
import { type Browser, chromium } from "npm:playwright-core@1.57.0";

/** A browser's driver and a checker of accessibility, for these suites alone. */
export {
  type Browser,
  type BrowserContext,
  type Page,
} from "npm:playwright-core@1.57.0";
export { default as axe } from "npm:axe-core@4.11.0";

/** Opens Debian's browser, without a window. */
export function openBrowser(): Promise<Browser> {
  return chromium.launch({
    executablePath: "/usr/bin/chromium",
    args: ["--no-sandbox"],
  });
}
